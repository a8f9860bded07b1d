// The browser's process is killed in the middle of saving, again and again, one profile through all of it: everything that
// the store had said was kept is found again, whole. CONEWRIGHT_KILLS=20 kills twenty times.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { test } from 'node:test';
import { serve } from '../../../pkg-scripts/serve.mjs';
import { QUIET } from '../browser.mjs';

const www = createRequire(new URL('../../../www/package.json', import.meta.url));
const { chromium } = www('playwright-core');
const { build } = www('esbuild');
const root = fileURLToPath(new URL('../../..', import.meta.url));
const KILLS = Number(process.env.CONEWRIGHT_KILLS ?? 3);

/** A bare page that offers the store of the page and nothing else. */
async function storePage() {
  const site = join(root, 'target/workshop-store');
  await mkdir(site, { recursive: true });
  const contents = `export { store } from ${JSON.stringify(join(root, 'www/app/store/store.ts'))};`;
  await build({ stdin: { contents, resolveDir: join(root, 'www') }, bundle: true, format: 'iife', globalName: 'kept', outfile: join(site, 'store.js'), nodePaths: [join(root, 'www/node_modules')], logLevel: 'warning' });
  await writeFile(join(site, 'index.html'), '<!doctype html><html lang="en"><title>workshop</title><link rel="icon" href="data:,"><script src="store.js"></script>');
  return site;
}

/** A browser of our own, whose process can be killed with all that belong to it. */
async function open(profile, address, onSaid) {
  const port = join(profile, 'DevToolsActivePort');
  rmSync(port, { force: true });
  const child = spawn(process.env.CHROMIUM ?? '/usr/bin/chromium', [...QUIET, `--user-data-dir=${profile}`, '--remote-debugging-port=0', 'about:blank'], { detached: true, stdio: 'ignore' });
  const gone = new Promise((done) => child.once('exit', done));
  for (let n = 0; !existsSync(port) || !(await readFile(port, 'utf8')).includes('\n'); n++) {
    assert.ok(n < 400, 'the browser does not start');
    await new Promise((done) => setTimeout(done, 50));
  }
  const browser = await chromium.connectOverCDP(`http://127.0.0.1:${(await readFile(port, 'utf8')).split('\n')[0]}`);
  const page = browser.contexts()[0].pages()[0] ?? (await browser.contexts()[0].newPage());
  page.on('console', (message) => /^(kept|made) /.test(message.text()) && onSaid(message.text()));
  await page.addInitScript(sayMade);
  await page.goto(address);
  const kill = async () => {
    process.kill(-child.pid, 'SIGKILL');
    await gone;
    await browser.close().catch(() => undefined);
  };
  return { page, kill };
}

/** Says when the browser makes the database anew; once is right. Where it threw the old one away, Chromium says why. */
function sayMade() {
  const real = IDBFactory.prototype.open;
  IDBFactory.prototype.open = function (...args) {
    const request = real.apply(this, args);
    request.addEventListener('upgradeneeded', (event) => console.log('made', event.oldVersion, event.dataLoss, event.dataLossMessage));
    return request;
  };
}

/** Keeps jobs, takes and readings as fast as it can and says each that the store has acknowledged. */
function keepOn(round) {
  const { store } = window.kept;
  const say = (...what) => console.log(['kept', ...what].join(' '));
  (async () => {
    for (let n = 1; ; n++) {
      // One job that is written over and over, and a new one each time.
      for (const id of ['same', `job-${round}-${n}`]) {
        await store.keepJob({ version: 2, id, title: `${round}-${n}`, note: 'x'.repeat(2000) });
        say('jobs', id, round * 1e6 + n);
      }
      const channel = Float32Array.from({ length: 24_000 }, (_, i) => Math.sin(i * n));
      const take = await store.keepTake({ rateHz: 48_000, channels: [channel] }, { check: 'knock', role: 'free', partName: 'Left', source: 'live', resistor_ohm: null, load_ohm: null, added_mass_kg: null });
      say('takes', take.id, channel.reduce((sum, s) => sum + s, 0));
      const reading = await store.keepReading({ check: 'knock', partName: `${round}-${n}`, note: '', source: 'live', takes: [], setup: {}, reading: { curves: { ring: { time_s: new Float64Array(4000).fill(n) } } } });
      say('readings', reading.id, 4000 * n);
    }
  })();
}

/** What of the acknowledged is not there, or not as it was. */
async function missing(acknowledged) {
  const { store } = window.kept;
  const lost = [];
  for (const [key, value] of acknowledged) {
    const [kind, id] = key.split(' ');
    try {
      if (kind === 'jobs') {
        const { job } = await store.get('jobs', id);
        const [round, n] = job.title.split('-').map(Number);
        if (round * 1e6 + n < value || job.note.length !== 2000) lost.push(key);
      } else {
        const numbers = kind === 'takes' ? (await store.samples(id)).channels[0] : (await store.get('readings', id)).reading.curves.ring.time_s;
        if (numbers.reduce((sum, s) => sum + s, 0) !== value) lost.push(key);
      }
    } catch (error) {
      lost.push(`${key}: ${error.message}`);
    }
  }
  return lost;
}

test(`after ${KILLS} kills in the middle of saving everything acknowledged is there`, async () => {
  const server = await serve(await storePage());
  const profile = mkdtempSync(join(tmpdir(), 'conewright-killed-'));
  const acknowledged = new Map();
  const made = [];
  const hear = (text) => {
    const found = /^kept (\w+ \S+) (\S+)$/.exec(text);
    if (found) acknowledged.set(found[1], Number(found[2]));
    else made.push(text);
  };
  let opened;
  try {
    for (let round = 1; round <= KILLS; round++) {
      opened = await open(profile, server.address, hear);
      const before = acknowledged.size;
      await opened.page.evaluate(keepOn, round);
      for (let n = 0; acknowledged.size === before; n++) {
        assert.ok(n < 1000, 'nothing is kept');
        await new Promise((done) => setTimeout(done, 10));
      }
      // Another moment each time, reproducible.
      await new Promise((done) => setTimeout(done, (round * 137) % 400));
      await opened.kill();
      if (round % 5 !== 0 && round !== KILLS) continue;
      opened = await open(profile, server.address, hear);
      assert.deepEqual(await opened.page.evaluate(missing, [...acknowledged]), [], made.join('; '));
      await opened.kill();
    }
    assert.equal(made.length, 1, made.join('; '));
    console.log(`# ${KILLS} kills, ${acknowledged.size} acknowledged entries, all found again`);
  } finally {
    await opened?.kill().catch(() => undefined);
    await server.close().catch(() => undefined);
    rmSync(profile, { recursive: true, force: true, maxRetries: 5 });
  }
});
