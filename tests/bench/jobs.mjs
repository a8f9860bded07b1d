// A full store: 200 jobs with 20 readings each. How soon the lists stand, what memory they take, what a job costs in the store.
// Prints a table; a figure of time is never a test, as a busy machine would fail it.
// `node tests/bench/jobs.mjs [ROUNDS] [JOBS] [READINGS]` on the built page.
import { readFileSync } from 'node:fs';
import { loadCore } from '../../pkg-scripts/core.mjs';
import { openPage } from '../page/browser.mjs';
import { RATE_HZ } from '../page/fixtures.mjs';

const [ROUNDS, JOBS, READINGS] = [5, 200, 20].map((otherwise, i) => Number(process.argv[2 + i] ?? otherwise));
const GOAL_MS = 200;
const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1];
const RECORD = JSON.parse(readFileSync(new URL('../job_records/version_2.json', import.meta.url), 'utf8'));

/** A reading of full size: a two-channel take of the practice bench, analysed. */
function reading() {
  const core = loadCore();
  const sweep = { shape: 'sweep', rate_hz: RATE_HZ, period_s: 1, periods: 6, low_hz: 8, high_hz: 20_000, peak_dbfs: -6, seed: 1, travel_shape: null };
  const take = core.practice_play({ driver: 'six', fault: 'none', scene: 'jig', position: { kind: 'driver' }, added_mass_kg: null, box_volume_m3: null, rate_hz: RATE_HZ, seed: 7 }, core.render(sweep));
  const setup = { check: 'impedance', series_resistor_ohm: 47, source_channel: 1, driver_channel: 2, takes: [{ role: 'driver' }] };
  const plain = (_name, value) => (ArrayBuffer.isView(value) ? { list: Array.from(value) } : value);
  return JSON.stringify(core.analyse_impedance(JSON.stringify(setup), [take]), plain);
}

/** Fills the page's store past its own code. */
async function fill({ text, record, jobs, readings }) {
  const reading = JSON.parse(text, (_name, value) => (value !== null && typeof value === 'object' && Array.isArray(value.list) ? Float64Array.from(value.list) : value));
  const db = await new Promise((done) => (indexedDB.open('conewright-bench-store').onsuccess = (event) => done(event.target.result)));
  const now = Date.now();
  for (let j = 0; j < jobs; j++) {
    await new Promise((done, failed) => {
      const work = db.transaction(['jobs', 'readings', 'takes'], 'readwrite');
      const filed = [];
      for (let r = 0; r < readings; r++) {
        const id = `reading-${j}-${r}`;
        const take = `take-${j}-${r}`;
        filed.push({ ...record.parts[0].filed[0], reading: id });
        work.objectStore('readings').put({ id, createdAt: now - j * 1e6 - r, check: 'impedance', partName: `Part ${r} of job ${j}`, note: '', source: 'live', takes: [{ id: take, role: 'driver', resistor_ohm: null, load_ohm: null, added_mass_kg: null, box_volume_m3: null, set_aside: [] }], takeIds: [take], setup: { check: 'impedance', series_resistor_ohm: 47, source_channel: 1, driver_channel: 2 }, reading });
        work.objectStore('takes').put({ id: take, createdAt: now, check: 'impedance', role: 'driver', partName: 'x', source: 'live', rateHz: 48000, channelCount: 2, frames: 288000, bytes: 1152000, resistor_ohm: null, load_ohm: null, added_mass_kg: null });
      }
      const job = { ...record, id: `job-${j}`, title: `Job ${j}`, conflicts: [], parts: [{ ...record.parts[0], filed }, record.parts[1]] };
      work.objectStore('jobs').put({ id: job.id, createdAt: now, changedAt: now - j, job });
      work.oncomplete = done;
      work.onabort = () => failed(work.error);
    });
  }
  db.close();
}

/** From the press that leads to the start until both lists stand and the thread is free. */
async function listMs(page, wanted) {
  return page.evaluate(
    async ([jobs, readings]) => {
      location.hash = '#/bench';
      while (document.querySelector('ul.kept')) await new Promise((done) => setTimeout(done, 20));
      await new Promise((done) => setTimeout(done, 500));
      const begin = performance.now();
      location.hash = '#/';
      const rows = (n) => document.querySelectorAll('ul.kept')[n]?.children.length ?? 0;
      const until = async (ready) => {
        while (!ready()) await new Promise((done) => requestAnimationFrame(done));
        await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
        return performance.now() - begin;
      };
      const jobsMs = await until(() => rows(0) >= jobs);
      return { jobsMs, allMs: await until(() => rows(1) >= readings) };
    },
    wanted,
  );
}

const { page, close } = await openPage();
try {
  await page.waitForSelector('h1');
  const usage = () => page.evaluate(async () => (await navigator.storage.estimate()).usage);
  const before = await usage();
  await page.evaluate(fill, { text: reading(), record: RECORD, jobs: JOBS, readings: READINGS });
  const bytesAJob = ((await usage()) - before) / JOBS;
  await page.reload();
  const shown = await page.waitForFunction((jobs) => document.querySelectorAll('ul.kept')[0]?.children.length >= jobs && document.querySelectorAll('ul.kept')[1].children.length, JOBS, { timeout: 120_000 });
  const readings = await shown.jsonValue();
  const rounds = [];
  for (let n = 0; n < ROUNDS; n++) rounds.push(await listMs(page, [JOBS, readings]));
  const devtools = await page.context().newCDPSession(page);
  await devtools.send('HeapProfiler.collectGarbage');
  const { usedSize } = await devtools.send('Runtime.getHeapUsage');
  const ms = (name) => `${median(rounds.map((r) => r[name])).toFixed(0)} ms (${rounds.map((r) => r[name].toFixed(0)).join(', ')})`;
  console.log(`${JOBS} jobs with ${READINGS} readings each, ${readings} readings listed`);
  console.log(`  list of jobs open      ${ms('jobsMs')}, goal ${GOAL_MS} ms`);
  console.log(`  both lists open        ${ms('allMs')}`);
  console.log(`  memory of the page     ${(usedSize / 1e6).toFixed(1)} MB`);
  console.log(`  a job in the store     ${(bytesAJob / 1e3).toFixed(0)} kB without samples`);
} finally {
  await close();
}
