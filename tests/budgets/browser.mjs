// The app in Chromium with the CPU slowed, timed by the browser's own event timing.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { serve } from './server.mjs';

const SLOWED = 4;
const PHONE = { width: 360, height: 740 };
// Slow 4G as Lighthouse means it: 150 ms there and back, 1.6 Mbit/s down, 750 kbit/s up.
const SLOW_4G = { offline: false, latency: 150, downloadThroughput: 1.6e6 / 8, uploadThroughput: 750e3 / 8 };
/** Between two taps, in milliseconds: quicker than a hand, and long enough that each press and release is painted. */
const PACE = 120;
/** How long a finger lies on the glass, in milliseconds: a quick one (common observation, no source). */
const CONTACT = 60;
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync'];

/** Chromium with a store of its own, which is gone afterwards. */
async function withBrowser(work) {
  const store = mkdtempSync(join(tmpdir(), 'evenhand-budgets-'));
  const context = await chromium.launchPersistentContext(store, {
    executablePath: process.env.EVENHAND_BROWSER ?? '/usr/bin/chromium', headless: true, args: FLAGS,
    viewport: PHONE, hasTouch: true, isMobile: true,
  });
  try {
    return await work(context);
  } finally {
    await context.close();
    rmSync(store, { recursive: true, force: true });
  }
}

async function slowed(page, rate = SLOWED) {
  const devtools = await page.context().newCDPSession(page);
  await devtools.send('Emulation.setCPUThrottlingRate', { rate });
  return devtools;
}

/** Keeps what the event timing tells, and the memory of the program. */
function watch() {
  window.timed = [];
  window.programs = [];
  const keep = (list) => window.timed.push(...list.getEntries().map((e) => ({
    name: e.name, at: e.startTime, took: e.duration, work: e.processingEnd - e.processingStart, interaction: e.interactionId })));
  new PerformanceObserver(keep).observe({ type: 'event', durationThreshold: 16, buffered: true });
  for (const name of ['instantiate', 'instantiateStreaming']) {
    const real = WebAssembly[name];
    WebAssembly[name] = async (...given) => {
      const made = await real(...given);
      window.programs.push(made.instance ?? made);
      return made;
    };
  }
}

const share = (sorted, part) => sorted[Math.min(sorted.length - 1, Math.ceil(part * sorted.length) - 1)] ?? 0;
function spread(times) {
  const sorted = [...times].sort((a, b) => a - b);
  return { count: sorted.length, median: share(sorted, 0.5), p98: share(sorted, 0.98), worst: share(sorted, 1) };
}

/** The time from each tap to its paint. Taps painted within 16 ms are not told one by one and count as 16 ms. */
async function paints(page, taps) {
  await page.waitForTimeout(300);
  const timed = await page.evaluate(() => window.timed.splice(0));
  const slowest = new Map();
  for (const event of timed) {
    if (event.interaction) slowest.set(event.interaction, Math.max(slowest.get(event.interaction) ?? 0, event.took));
  }
  const times = [...slowest.values()];
  while (times.length < taps) times.push(16);
  return spread(times);
}

/** A job file of so many entries. */
function jobFile(entries) {
  const text = execFileSync('cargo', ['run', '-q', '-p', 'evenhand-core', '--example', 'job_of', '--', String(entries)],
    { maxBuffer: 1 << 30 });
  return { name: `${entries}.job.json`, mimeType: 'application/json', buffer: text };
}

async function openFile(page, url, file) {
  await page.goto(`${url}#/`);
  await page.locator('input[type=file][accept*=json]').setInputFiles(file);
  await page.waitForURL(/#\/[0-9a-f]{16}$/, { timeout: 120_000 });
  return page.url().slice(-16);
}

/** What the main thread worked, in milliseconds. */
async function worked(devtools) {
  const { metrics } = await devtools.send('Performance.getMetrics');
  return metrics.find((m) => m.name === 'TaskDuration').value * 1_000;
}

/** Does so many times what is timed, and tells its paints and what the main thread worked for each. */
async function timed(page, devtools, count, act) {
  await devtools.send('Performance.enable', { timeDomain: 'threadTicks' });
  await page.waitForTimeout(1_000);
  await page.evaluate(() => window.timed.splice(0));
  const before = await worked(devtools);
  for (let n = 0; n < count; n++) {
    await act(n);
    await page.waitForTimeout(PACE);
  }
  const work = (await worked(devtools) - before) / count;
  return { ...(await paints(page, count)), work };
}

/** Touches the middle of these elements in turn. With no contact a press and its release reach the page in the same
 * instant, as no finger does it: the release waits for the paint of the press. */
async function touching(page, devtools, selectors, contact = CONTACT) {
  const places = [];
  for (const selector of selectors) {
    const box = await page.locator(selector).boundingBox();
    places.push({ x: box.x + box.width / 2, y: box.y + box.height / 2 });
  }
  const touch = (type, touchPoints) => devtools.send('Input.dispatchTouchEvent', { type, touchPoints });
  return async (n) => {
    await touch('touchStart', [places[n % places.length]]);
    if (contact) await page.waitForTimeout(contact);
    await touch('touchEnd', []);
  };
}

/** How many entries the browser has stored. */
function stored(page) {
  return page.evaluate(() => new Promise((done, failed) => {
    const opening = indexedDB.open('evenhand');
    opening.onerror = failed;
    opening.onsuccess = () => {
      const counting = opening.result.transaction('entries').objectStore('entries').count();
      counting.onerror = failed;
      counting.onsuccess = () => { opening.result.close(); done(counting.result); };
    };
  }));
}

/** One pass of let-off: so many readings of two digits, then Enter. */
async function pass(page, url, job, readings, devtools, contact = CONTACT) {
  await page.goto(`${url}#/${job}/pass/let_off`);
  await page.waitForSelector('.pad [data-key=enter]', { timeout: 60_000 });
  const before = await stored(page);
  const keys = ['1', '8', 'enter'].map((name) => `.pad [data-key="${name}"]`);
  const found = await timed(page, devtools, keys.length * readings, await touching(page, devtools, keys, contact));
  const kept = await stored(page) - before;
  if (kept < readings) throw new Error(`The taps did not arrive: ${readings} readings were entered and ${kept} entries kept.`);
  return found;
}

const WHOLE_ROW = '.sweeps .sweep:has-text("88 notes")';

/** Sweeps the whole row of let-off, of which nothing is measured, and takes it back, so many times. Times the sweeps alone. */
async function rowsSwept(page, url, job, count, devtools) {
  const open = (screen) => page.goto(`${url}#/${job}${screen}`);
  // A notice takes the room of these keys: that of the file says that it came without its photos.
  await page.locator('.notice button').click();
  const before = await stored(page);
  const times = [];
  let work = 0;
  for (let n = 0; n < count; n++) {
    await open('/pass/let_off');
    await page.waitForSelector(WHOLE_ROW, { timeout: 60_000 });
    const one = await timed(page, devtools, 1, await touching(page, devtools, [WHOLE_ROW]));
    times.push(one.worst);
    work += one.work / count;
    await page.getByRole('button', { name: 'Undo the last' }).click({ timeout: 10_000 });
    await open('');
    await page.waitForSelector('.order .step');
  }
  const kept = await stored(page) - before;
  if (kept < 2 * count) throw new Error(`The sweeps did not arrive: ${count} rows were swept and taken back, and ${kept} entries kept.`);
  return { ...spread(times), work };
}

/** A page of one button: what the browser and the measuring take of every tap, whatever the page. */
const ONE_BUTTON = `<!doctype html><meta name="viewport" content="width=device-width"><title>One button</title>
<button style="width:300px;height:300px;touch-action:manipulation">0</button>
<script>let n = 0; document.querySelector('button').onclick = (event) => { event.target.textContent = ++n; };</script>`;

/** Tap to paint in jobs of several sizes, of a sweep, in a plain table of 88 fields, and on one button. */
export async function taps(dist, { jobs, readings }) {
  const site = await serve(dist, { '/plain.html': readFileSync(new URL('plain.html', import.meta.url)), '/button.html': ONE_BUTTON });
  const found = [];
  const add = (what, entries, measure) => withBrowser(async (context) => {
    const page = context.pages()[0];
    await page.addInitScript(watch);
    found.push({ what, entries, ...(await measure(page)) });
  });
  const inJob = (what, entries, name, contact) => add(what, name, async (page) => {
    const job = await openFile(page, site.url, jobFile(entries));
    const found = await pass(page, site.url, job, readings, await slowed(page), contact);
    // At the end of a pass the taps would fall on its buttons, and another screen would be measured.
    if (!await page.locator('.pass .pad').count()) throw new Error('The pass ended while it was measured.');
    return found;
  });
  for (const entries of jobs) await inJob(`job of ${entries} entries`, entries, entries, CONTACT);
  if (jobs.length > 1) {
    await add('job of 5000 entries, a row of 88 swept', 'sweep', async (page) => {
      const job = await openFile(page, site.url, jobFile(5_000));
      return rowsSwept(page, site.url, job, 25, await slowed(page));
    });
    await inJob('job of 5000 entries, pressed and released in one instant', 5_000, 'instant', 0);
  }
  await add('plain table of 88 fields, key to paint', 'table', async (page) => {
    await page.goto(`${site.url}plain.html`);
    const keys = ['1', '.', '8', 'Enter'];
    return timed(page, await slowed(page), keys.length * readings, (n) => page.keyboard.press(keys[n % keys.length]));
  });
  await add('one button and nothing else', 'button', async (page) => {
    await page.goto(`${site.url}button.html`);
    const devtools = await slowed(page);
    return timed(page, devtools, 3 * readings, await touching(page, devtools, ['button']));
  });
  site.stop();
  return found;
}

/** Milliseconds from the start of the page until there is something to tap. */
async function untilUsable(page, address, selector) {
  await page.goto(address, { waitUntil: 'commit' });
  await page.waitForSelector(selector, { timeout: 120_000 });
  return page.evaluate(() => new Promise((done) =>
    requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now())))));
}

/** What the first visit loads, asked until all is quiet; its time on a slow line, and whom else it asked. */
export async function firstVisit(dist) {
  const site = await serve(dist);
  const elsewhere = new Set();
  const time = await withBrowser(async (context) => {
    const page = context.pages()[0];
    page.on('request', (request) => { if (!/^(data|blob|about):/.test(request.url()) && !request.url().startsWith(site.url)) elsewhere.add(request.url()); });
    const devtools = await slowed(page);
    await devtools.send('Network.emulateNetworkConditions', SLOW_4G);
    const time = await untilUsable(page, site.url, 'footer .button');
    let before = -1;
    while (before !== site.asked.size) { before = site.asked.size; await page.waitForTimeout(4_000); }
    return time;
  });
  site.stop();
  return { files: [...site.asked], slow4g: time, elsewhere: [...elsewhere] };
}

/** Lays so many jobs into the store of the browser, each of some entries, and the list as the app keeps it. */
async function lay(page, lines, count) {
  await page.evaluate(async ({ lines, count }) => {
    const database = await new Promise((done) => { const r = indexedDB.open('evenhand'); r.onsuccess = () => done(r.result); });
    const list = [];
    for (let n = 1; n <= count; n++) {
      const job = n.toString(16).padStart(16, '0');
      const work = database.transaction(['entries', 'jobs'], 'readwrite');
      for (const line of lines) {
        const entry = JSON.parse(line);
        if (entry.act === 'made') entry.job = job;
        const key = `${job}/${entry.clock.toString(16).padStart(16, '0')}-${entry.device}-${entry.seq.toString(16).padStart(16, '0')}`;
        work.objectStore('entries').put(entry.act === 'made' ? JSON.stringify(entry) : line, key);
      }
      work.objectStore('jobs').put(1, job);
      await new Promise((done) => { work.oncomplete = done; });
      list.push({ id: job, name: `Job ${n}`, described: 'Invented', invented: true, done: [1, 40], next: 'Let-off', last_ms: 1790000000000 + n, entries: lines.length, exported: 0,
        overview: { client: '', serial: `${n}`, standing: 'in_work', done: 1, steps: 40, stage: 'Regulate', step: 'Let-off', faults: 0, worked_ms: 1790000000000 + n, check: '2027-09-21', drying: [], earlier: null } });
    }
    localStorage.setItem('jobs', JSON.stringify(list));
    localStorage.removeItem('place');
  }, { lines, count });
}

/** The start without a network, from the service worker where there is one, with so many jobs stored. */
export async function starts(dist, counts) {
  const site = await serve(dist);
  const text = JSON.parse(jobFile(100).buffer);
  const lines = text.log.map((entry) => JSON.stringify(entry));
  const found = [];
  for (const count of counts) {
    await withBrowser(async (context) => {
      let page = context.pages()[0];
      await page.goto(site.url);
      await page.waitForSelector('footer .button');
      const worker = await page.evaluate(async () => {
        if (!navigator.serviceWorker) return false;
        const wait = new Promise((done) => setTimeout(() => done(false), 8_000));
        return !!(await Promise.race([navigator.serviceWorker.ready, wait]));
      });
      await page.waitForTimeout(3_000);
      await lay(page, lines, count);
      for (const kept of [true, false]) {
        if (!kept) await page.evaluate(() => { localStorage.removeItem('jobs'); localStorage.removeItem('place'); });
        await page.close();
        page = await context.newPage();
        await slowed(page);
        if (worker) await context.setOffline(true);
        const time = await untilUsable(page, `${site.url}#/`, '.jobs a');
        const all = Date.now();
        await page.waitForFunction((n) => document.querySelectorAll('.jobs a').length >= n, count, { timeout: 300_000 });
        found.push({ count, kept, worker, time, whole: time + Date.now() - all });
        await context.setOffline(false);
      }
    });
  }
  site.stop();
  return found;
}

/** What the page holds after what can be freed was freed. */
async function memoryOf(page, devtools) {
  // What a handler held is freed in a turn of its own after its element.
  for (let turn = 0; turn < 3; turn++) {
    await devtools.send('HeapProfiler.collectGarbage');
    await page.waitForTimeout(300);
  }
  const metrics = new Map((await devtools.send('Performance.getMetrics')).metrics.map((m) => [m.name, m.value]));
  const program = await page.evaluate(() => window.programs.reduce((all, p) => all + (p.exports.memory?.buffer.byteLength ?? 0), 0));
  return { heap: metrics.get('JSHeapUsedSize'), nodes: metrics.get('Nodes'), listeners: metrics.get('JSEventListeners'), program };
}

/** Memory at the start, after a whole job of this size and a pass of it, and after opening and leaving so many jobs. */
export async function memory(dist, { entries, readings, jobs }) {
  const site = await serve(dist);
  const file = jobFile(entries);
  const found = await withBrowser(async (context) => {
    const page = context.pages()[0];
    await page.addInitScript(watch);
    const devtools = await context.newCDPSession(page);
    await page.goto(site.url);
    await page.waitForSelector('footer .button');
    await devtools.send('Performance.enable', { timeDomain: 'threadTicks' });
    const rows = [];
    const look = async (what) => rows.push({ what, ...(await memoryOf(page, devtools)) });
    await look('at the start');
    const job = await openFile(page, site.url, file);
    await pass(page, site.url, job, readings, devtools);
    await look(`after a job of ${entries} entries and a pass of ${readings} readings`);
    const ids = [job];
    for (let n = 0; n < jobs; n++) {
      await page.evaluate(() => { location.hash = '#/'; });
      await page.getByRole('button', { name: 'Demo job' }).click();
      await page.waitForURL((url) => /^#\/[0-9a-f]{16}$/.test(url.hash) && !ids.includes(url.hash.slice(2)));
      ids.push(page.url().slice(-16));
      await page.waitForTimeout(200);
    }
    await look(`after making ${jobs} jobs more`);
    // Each screen of each job, opened and left, and again: what grows each time is told from what is made once. The
    // program's memory grows by a megabyte where the largest job of a time finds it in pieces, which may be the second.
    for (const round of ['once', 'twice', 'three times']) {
      for (const id of ids) {
        for (const screen of ['', '/pass/let_off', '/profile/let_off', '/corrections', '/handover']) {
          await page.evaluate((hash) => { location.hash = hash; }, `#/${id}${screen}`);
          await page.waitForTimeout(120);
        }
      }
      await page.evaluate(() => { location.hash = '#/'; });
      await page.waitForTimeout(1_500);
      await look(`after going through all ${ids.length} jobs ${round}`);
    }
    return rows;
  });
  site.stop();
  return found;
}
