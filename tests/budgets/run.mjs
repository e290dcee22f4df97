// Prints every budget with what was measured, how, and the margin. `./evenhand budgets` sets it up and runs it:
//   node run.mjs DIST --wasm NAMED.wasm --floor FLOOR.wasm   all of it, some quarter of an hour
//   node run.mjs DIST --smoke                                the sizes, and a short pass that shows that it still measures
import { spawnSync } from 'node:child_process';
import { cpus, loadavg } from 'node:os';
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { filesOf, parts, sizeOf, sizes } from './sizes.mjs';

const BUDGET = {
  brotli: 750 * 1024, firstScreenMs: 2_500, startMs: { 100: 1_000, 1_000: 1_500 },
  tapTimesButton: 1.5, tapGrowth: 1.1, sweepTimesReading: 1, applyUs: 1, foldMs: 10, sumsMs: 10,
};
// The size is over its budget; docs/BUDGETS.md says by how much and why. Until it is within, the tests hold that it grows no
// further than this without a word there.
const RECORDED = 1170 * 1024;
const here = dirname(fileURLToPath(import.meta.url));
const root = join(here, '..', '..');

const [dist, ...options] = process.argv.slice(2);
const option = (name) => { const at = options.indexOf(name); return at < 0 ? undefined : options[at + 1]; };
const smoke = options.includes('--smoke');
const only = option('--only');
const wanted = (what) => !only || only.split(',').includes(what);

const kb = (bytes) => `${(bytes / 1024).toFixed(1)} KB`;
const mb = (bytes) => bytes == null ? 'not told' : `${(bytes / 1048576).toFixed(1)} MB`;
const ms = (time) => time == null ? 'not measured' : time < 0.1 ? `${(time * 1000).toFixed(2)} µs` : time < 100 ? `${time.toFixed(2)} ms` : `${time.toFixed(0)} ms`;
const load = () => loadavg().map((l) => l.toFixed(1)).join(' ');
const heading = (words) => console.log(`\n## ${words}   (load ${load()} on ${cpus().length} processors)`);
function table(head, rows) {
  const all = [head, ...rows].map((row) => row.map(String));
  const widths = head.map((_, column) => Math.max(...all.map((row) => row[column].length)));
  const line = (row) => `| ${row.map((cell, column) => (column ? cell.padStart(widths[column]) : cell.padEnd(widths[column]))).join(' | ')} |`;
  console.log(line(all[0]));
  console.log(`|${widths.map((w) => '-'.repeat(w + 2)).join('|')}|`);
  all.slice(1).forEach((row) => console.log(line(row)));
}

const verdicts = [];
function judge(what, measured, budget, show, how) {
  const known = measured != null && !Number.isNaN(measured);
  const met = known && measured <= budget;
  const margin = !known ? '' : !met ? `over by ${show(measured - budget)}` : measured > 0 ? `${(budget / measured).toFixed(1)} times within` : '';
  verdicts.push([what, show(budget), known ? show(measured) : 'not measured', known ? (met ? 'met' : 'MISSED') : 'NOT MEASURED', margin, how]);
  return met;
}
/** What has no budget but belongs into the table. */
const note = (what, measured, how) => verdicts.push([what, 'none', measured ?? 'not measured', '', '', how]);

/** Measures one part; what fails is told, stands in the table as not measured, and does not hold up the others. */
let broken = 0;
async function measure(part, work) {
  if (!wanted(part)) return;
  try {
    await work();
  } catch (error) {
    broken++;
    console.log(`\n${part} could not be measured: ${String(error?.stack ?? error).slice(0, 1_500)}`);
    verdicts.push([part, '', 'not measured', 'NOT MEASURED', '', String(error).split('\n')[0].slice(0, 80)]);
  }
}

/** Criterion's own estimates of the last run, in nanoseconds. */
function estimate(group, bench) {
  const name = (text) => text.replaceAll(/[?"/\\*<>:|^]/g, '_');
  const path = resolve(root, process.env.CARGO_TARGET_DIR ?? 'target', 'criterion', name(group), ...(bench ? [name(bench)] : []), 'new', 'estimates.json');
  return existsSync(path) ? JSON.parse(readFileSync(path)).median.point_estimate : undefined;
}

function core() {
  const bench = spawnSync('cargo', ['bench', '-q', '-p', 'evenhand-core', '--features', 'simulation', '--bench', 'job', '--bench', 'analysis',
    '--', '--warm-up-time', '1', '--measurement-time', '3'], { cwd: root, stdio: ['ignore', 'ignore', 'pipe'], maxBuffer: 1 << 28 });
  if (bench.status !== 0) throw new Error(String(bench.stderr).slice(-1_000));
  const at = (size, group = 'apply one entry to a job of') => (estimate(group, String(size)) ?? NaN) / 1e6;
  heading('core, native (criterion, medians)');
  const rows = ['fold', 'gather, sort and fold', 'progress of all steps', 'what to do now', 'corrections of all steps', 'handover', 'export'].map((name) => {
    const [small, large] = [20_000, 200_000].map((size) => estimate(`${size} entries`, name));
    const exponent = small && large ? Math.log10(large / small).toFixed(2) : '';
    return [name, ms(small && small / 1e6), ms(large && large / 1e6), exponent];
  });
  table(['what', '20 000 entries', '200 000 entries', 'growth exponent'], rows);
  const opened = estimate('20000 entries', 'open');
  console.log(`Opening a file of 20 000 entries: ${ms(opened && opened / 1e6)}; one of 200 000 is refused.`);
  const sizes = [100, 5_000, 100_000];
  const warm = 'apply one entry whose note was just looked at to a job of';
  table(['apply one entry to a job of', ...sizes, 'growth exponent'], [['as it comes', 'apply one entry to a job of'], ['its note just looked at', warm]]
    .map(([words, group]) => [words, ...sizes.map((size) => ms(at(size, group))), (Math.log10(at(100_000, group) / at(100, group)) / 3).toFixed(2)]));
  console.log('Where the second line does not grow, the work is the same in every job, and what grows in the first is the way to memory.');
  judge('applying one entry, native, job of 100 000', at(100_000) * 1e3, BUDGET.applyUs, (us) => `${us.toFixed(2)} µs`, 'criterion, median');
  judge('folding 20 000 entries, native', (estimate('20000 entries', 'fold') ?? NaN) / 1e6, BUDGET.foldMs, ms, 'criterion, median');
  const all = estimate('20 000 entries, every step read', 'all of these together');
  judge('all sums of a job of 20 000 entries, native', (all ?? NaN) / 1e6, BUDGET.sumsMs, ms, 'criterion, median');
}

async function lighthouse() {
  const path = join(here, 'node_modules', '.bin', 'lighthouse');
  if (!existsSync(path)) throw new Error('Lighthouse is not installed: npm ci in tests/budgets.');
  const { serve } = await import('./server.mjs');
  const site = await serve(dist);
  const { spawn } = await import('node:child_process');
  const run = spawn(path, [site.url, '--output=json', '--quiet', '--only-categories=performance,accessibility,best-practices',
    `--chrome-flags=--headless --no-sandbox --disable-gpu`], { env: { ...process.env, CHROME_PATH: process.env.EVENHAND_BROWSER ?? '/usr/bin/chromium' } });
  let text = '', trouble = '';
  run.stdout.on('data', (chunk) => { text += chunk; });
  run.stderr.on('data', (chunk) => { trouble += chunk; });
  const patience = setTimeout(() => run.kill(), 240_000);
  await new Promise((done) => run.on('close', done));
  clearTimeout(patience);
  site.stop();
  if (!text) throw new Error(`Lighthouse gave no report. ${trouble.slice(-500)}`);
  heading('Lighthouse (mobile, its own slowing of line and CPU)');
  const report = JSON.parse(text);
  if (report.runtimeError) throw new Error(report.runtimeError.message);
  for (const category of Object.values(report.categories)) {
    console.log(`${category.title}: ${Math.round(category.score * 100)}`);
    for (const { id, weight } of category.auditRefs) {
      const audit = report.audits[id];
      if (weight > 0 && audit.score !== null && audit.score < 1) console.log(`  ${audit.score < 0.9 ? 'cost points' : 'a little'}: ${audit.title}, ${audit.displayValue ?? audit.score}`);
    }
    note(`Lighthouse, ${category.title}`, String(Math.round(category.score * 100)), `of 100; Lighthouse ${report.lighthouseVersion}`);
  }
}

console.log(`Measured ${new Date().toISOString().slice(0, 16)}Z, load ${load()}, ${cpus().length} × ${cpus()[0]?.model}.`);
const browser = await import('./browser.mjs');

let small = true, alone = true;
async function firstVisit() {
  const visit = await browser.firstVisit(dist);
  heading('What a first visit loads');
  const first = sizes(dist, visit.files.filter((file) => existsSync(join(dist, file))));
  table(['file', 'raw', 'gzip', 'brotli'], [...first.rows, { file: 'all that a first visit loads', ...first.total }].map((r) => [r.file, kb(r.raw), kb(r.gzip), kb(r.brotli)]));
  const later = filesOf(dist).filter((file) => !visit.files.includes(file));
  if (later.length) console.log(`Not loaded on a first visit: ${later.join(', ')}.`);
  judge('all that is ever loaded, brotli', first.total.brotli, BUDGET.brotli, kb, 'each file asked for by page and service worker, brotli quality 11');
  small = first.total.brotli <= RECORDED;
  if (!small) console.log(`All that is ever loaded is ${kb(first.total.brotli)}, more than the ${kb(RECORDED)} that docs/BUDGETS.md records.`);
  alone = judge('requests to other origins', visit.elsewhere.length, 0, String, 'every request of the first visit');
  if (!alone) console.log(visit.elsewhere.join('\n'));
  judge('first usable screen from a cold cache, slow 4G', visit.slow4g, BUDGET.firstScreenMs, ms, '150 ms, 1.6 Mbit/s down, 750 kbit/s up; CPU slowed four times');
}

function byPart() {
  const named = parts(option('--wasm'));
  const floor = new Map(parts(option('--floor-named') ?? '').map(({ part, size }) => [part, size]));
  heading('The program by part (before wasm-opt, names kept)');
  table(['part', 'bytes', 'in the floor'], named.slice(0, 24).map(({ part, size }) => [part, kb(size), floor.has(part) ? kb(floor.get(part)) : '']));
  if (option('--floor')) {
    const least = sizeOf(option('--floor'));
    console.log(`The floor, one button in the same framework and settings: ${kb(least.raw)} raw, ${kb(least.gzip)} gzip, ${kb(least.brotli)} brotli.`);
    note('the floor: one button, the wasm alone, brotli', kb(least.brotli), 'the same framework and settings');
  }
}

async function taps() {
  const found = await browser.taps(dist, smoke ? { jobs: [100], readings: 2 } : { jobs: [100, 5_000, 20_000], readings: 80 });
  heading('Tap to paint, CPU slowed four times, a finger that lies 60 ms and comes again after 120 (event timing, rounded by the browser to 8 ms)');
  table(['a pass of let-off in', 'taps', 'median', '98th', 'worst', 'main thread, per tap'], found.map((r) => [r.what, r.count, ms(r.median), ms(r.p98), ms(r.worst), ms(r.work)]));
  const at = (entries) => found.find((r) => r.entries === entries);
  if (!at(20_000)) return;
  const times = (factor) => `${factor.toFixed(2)} times`;
  const growth = (key) => times(at(20_000)[key] / at(100)[key]);
  console.log(`From 100 to 20 000 entries: median ${growth('median')}, 98th ${growth('p98')}, the main thread's work ${growth('work')}.`);
  judge('tap to paint, 98th percentile, job of 5 000, beside a page of one button', at(5_000).p98 / at('button').p98, BUDGET.tapTimesButton, times,
    `event timing, every tap of a pass, CPU slowed four times: ${ms(at(5_000).p98)} and ${ms(at('button').p98)}`);
  judge('the same in a job of 20 000 beside one of 100', at(20_000).p98 / at(100).p98, BUDGET.tapGrowth, times,
    `medians ${ms(at(20_000).median)} and ${ms(at(100).median)}, 98th ${ms(at(20_000).p98)} and ${ms(at(100).p98)}`);
  note('the same, pressed and released in one instant', ms(at('instant').p98), 'quicker than any finger: the release waits for the paint of the press');
  note('the same in a plain table of 88 fields', ms(at('table').p98), 'key to paint; all of it to localStorage at every change');
  note('the same on a page of one button', ms(at('button').p98), 'what browser and measuring take of every tap');
  judge('a sweep of 88 notes, 98th percentile, beside a single reading', at('sweep').p98 / at(5_000).p98, BUDGET.sweepTimesReading, times,
    `job of 5 000, ${at('sweep').count} sweeps: ${ms(at('sweep').p98)} and ${ms(at(5_000).p98)}, medians ${ms(at('sweep').median)} and ${ms(at(5_000).median)}`);
}

async function starts() {
  const found = await browser.starts(dist, [1, 100, 1_000]);
  const worker = found.every((r) => r.worker);
  heading(`Start, CPU slowed four times, ${worker ? 'offline from the service worker' : 'NOT offline: the service worker did not answer'}`);
  table(['jobs stored', 'list kept in local storage', 'first job to tap', 'whole list'], found.map((r) => [r.count, r.kept ? 'yes' : 'lost', ms(r.time), ms(r.whole)]));
  for (const [count, limit] of Object.entries(BUDGET.startMs)) {
    judge(`start with ${count} jobs${worker ? ', offline' : ' (online)'}`, found.find((r) => r.count === Number(count) && r.kept).time, limit, ms,
      'page start to a painted job, CPU slowed four times');
  }
}

async function memory() {
  const rows = await browser.memory(dist, { entries: 5_000, readings: 88, jobs: 20 });
  heading('Memory, after what can be freed was freed');
  table(['when', 'JavaScript heap', 'program (wasm)', 'nodes', 'listeners'], rows.map((r) => [r.what, mb(r.heap), mb(r.program), r.nodes, r.listeners]));
  const [before, last] = rows.slice(-2).map((r) => r.heap + r.program);
  note('memory after 21 jobs, all screens three times', mb(last), 'JavaScript heap and program');
  note('what the third time through them adds', kb(Math.max(0, last - before)), 'nothing much, if nothing leaks');
}

// The size and the other origins are what the tests hold, so they are always measured.
try { await firstVisit(); } catch (error) { broken++; alone = false; console.log(`The first visit could not be measured: ${error}`); verdicts.push(['first visit', '', 'not measured', 'NOT MEASURED', '', String(error).slice(0, 80)]); }
if (option('--wasm')) await measure('parts', byPart);
await measure('taps', taps);
if (!smoke) {
  await measure('starts', starts);
  await measure('memory', memory);
  await measure('core', core);
  await measure('lighthouse', lighthouse);
}

heading('The budgets');
table(['budget', 'limit', 'measured', 'verdict', 'margin', 'how'], verdicts);
process.exit(small && alone && !broken ? 0 : 1);
