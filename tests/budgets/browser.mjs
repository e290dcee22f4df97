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
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync'];

/** Chromium with a store of its own, which is gone afterwards. */
async function withBrowser(work) {
  const store = mkdtempSync(join(tmpdir(), 'evenhand-budgets-'));
  const context = await chromium.launchPersistentContext(store, {
    executablePath: process.env.EVENHAND_BROWSER ?? '/usr/bin/chromium', headless: true, args: FLAGS,
    viewport: PHONE, hasTouch: true,
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
  await page.locator('input[type=file]').setInputFiles(file);
  await page.waitForURL(/#\/[0-9a-f]{16}$/, { timeout: 120_000 });
  return page.url().slice(-16);
}

/** One pass of let-off: so many readings of two digits, then Enter. */
async function pass(page, url, job, readings) {
  await page.goto(`${url}#/${job}/pass/let_off`);
  await page.waitForSelector('.pad [data-key=enter]', { timeout: 60_000 });
  await page.waitForTimeout(1_000);
  await page.evaluate(() => window.timed.splice(0));
  const key = (name) => page.locator(`.pad [data-key="${name}"]`);
  const places = {};
  for (const name of ['1', '8', 'enter']) {
    const box = await key(name).boundingBox();
    places[name] = [box.x + box.width / 2, box.y + box.height / 2];
  }
  for (let n = 0; n < readings; n++) {
    for (const name of ['1', '8', 'enter']) await page.touchscreen.tap(...places[name]);
  }
  return paints(page, 3 * readings);
}

/** Tap to paint in jobs of several sizes, and in a plain table of 88 fields. */
export async function taps(dist, { jobs, readings }) {
  const site = await serve(dist, { '/plain.html': readFileSync(new URL('plain.html', import.meta.url)) });
  const found = [];
  for (const entries of jobs) {
    await withBrowser(async (context) => {
      const page = context.pages()[0];
      await page.addInitScript(watch);
      const job = await openFile(page, site.url, jobFile(entries));
      await slowed(page);
      found.push({ what: `job of ${entries} entries`, entries, ...(await pass(page, site.url, job, readings)) });
    });
  }
  await withBrowser(async (context) => {
    const page = context.pages()[0];
    await page.addInitScript(watch);
    await page.goto(`${site.url}plain.html`);
    await slowed(page);
    await page.waitForTimeout(500);
    await page.evaluate(() => window.timed.splice(0));
    for (let n = 0; n < readings; n++) {
      for (const key of ['1', '.', '8', 'Enter']) await page.keyboard.press(key);
    }
    found.push({ what: 'plain table of 88 fields, key to paint', ...(await paints(page, 4 * readings)) });
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
      list.push({ id: job, name: `Job ${n}`, described: 'Invented', invented: true, done: [1, 40], next: 'Let-off', last_ms: 1790000000000 + n, entries: lines.length, exported: 0 });
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

async function memoryOf(page, devtools) {
  await devtools.send('HeapProfiler.collectGarbage');
  const metrics = (await devtools.send('Performance.getMetrics')).metrics;
  const heap = metrics.find((m) => m.name === 'JSHeapUsedSize').value;
  const program = await page.evaluate(() => window.programs.reduce((all, p) => all + (p.exports.memory?.buffer.byteLength ?? 0), 0));
  const whole = await page.evaluate(() => Promise.race([
    performance.measureUserAgentSpecificMemory?.().then((m) => m.bytes) ?? null,
    new Promise((done) => setTimeout(() => done(null), 60_000)),
  ]).catch(() => null));
  return { heap, program, whole };
}

/** Memory at the start, after a whole job of this size and a pass of it, and after opening so many jobs. */
export async function memory(dist, { entries, readings, jobs }) {
  const site = await serve(dist);
  const found = await withBrowser(async (context) => {
    const page = context.pages()[0];
    await page.addInitScript(watch);
    const devtools = await context.newCDPSession(page);
    await devtools.send('Performance.enable');
    await page.goto(site.url);
    await page.waitForSelector('footer .button');
    const rows = [{ what: 'at the start', ...(await memoryOf(page, devtools)) }];
    const job = await openFile(page, site.url, jobFile(entries));
    await pass(page, site.url, job, readings);
    rows.push({ what: `after a job of ${entries} entries and a pass`, ...(await memoryOf(page, devtools)) });
    for (let n = 0; n < jobs; n++) {
      await page.evaluate(() => { location.hash = '#/'; });
      await page.getByRole('button', { name: 'Demo job' }).click();
      await page.waitForURL(/#\/[0-9a-f]{16}$/);
      await page.waitForTimeout(200);
    }
    rows.push({ what: `after ${jobs} jobs more`, ...(await memoryOf(page, devtools)) });
    return rows;
  });
  site.stop();
  return found;
}
