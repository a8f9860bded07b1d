// The page in one file, opened from a disk: a real capture and the practice bench, no request, a strict policy, and a
// browser that keeps nothing.
import assert from 'node:assert/strict';
import { cp, mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { launch, watch, withPage } from '../browser.mjs';
import { knockWav, truthOf } from '../fixtures.mjs';
import { keptReadings } from '../kept.mjs';
import { press, startPractice, walk } from '../walk.mjs';

const BUILT = new URL('../../../target/single/conewright.html', import.meta.url).pathname;
let stick;
let address;
before(async () => {
  // As on a stick: alone in a folder whose name has a space.
  stick = await mkdtemp(join(tmpdir(), 'a stick '));
  await cp(BUILT, join(stick, 'Conewright.html'));
  address = pathToFileURL(join(stick, 'Conewright.html')).href;
});
after(() => rm(stick, { recursive: true, force: true }));

/** Opens the file, acts, and fails where anything was asked for that does not lie in the file. */
async function fromDisk({ sound, prepare } = {}, act) {
  const browser = await launch({ sound });
  try {
    const page = await (await browser.newContext()).newPage();
    if (prepare) await page.addInitScript(prepare);
    const problems = watch(page, address);
    await page.goto(address);
    await page.waitForSelector('h1');
    await act(page);
    assert.deepEqual(problems, []);
  } finally {
    await browser.close();
  }
}

test('opened from a disk: knocks that come in as sound become a reading, which is kept; then impedance on the practice bench', () => {
  const core = loadCore();
  const wav = knockWav(44_100, core, 'knock-44100.wav');
  return fromDisk({ sound: { wav } }, async (page) => {
    assert.equal(await page.evaluate(() => location.protocol), 'file:');
    assert.match(await page.textContent('main'), /This copy runs from a file/);
    await press(page, 'a.plate', 'A cable into the input');
    await page.waitForSelector('button.main');
    await press(page, 'button.main', 'Open the input');
    const knock = await walk(page, { until: (now) => now.sentence.startsWith('Which resistor') || now.read });
    if (!knock.read) await walk(page);
    const [{ reading, source }] = await keptReadings(page);
    assert.equal(source, 'live');
    const f = reading.values.f_s_hz.value;
    // As for the same take from a server: a hundredth tells drivers apart.
    assert.ok(Math.abs(f / truthOf(core).f_s_hz - 1) < 0.01, `f_s ${f}`);

    // Opened again, the reading is still there.
    await page.goto('about:blank');
    await page.goto(address);
    await page.waitForSelector('ul.kept > li');
    await startPractice(page, { check: 'Impedance' });
    const end = await walk(page);
    assert.ok(end.read && !end.refused, end.sentence);
    const [kept] = await keptReadings(page);
    const { value, standard_uncertainty: u } = kept.reading.values.r_e_ohm;
    assert.ok(Math.abs(value / truthOf(core, kept.practice.driver).r_e_ohm - 1) < 0.02 && u > 0, `R_e ${value}`);
  });
});

test('a browser that refuses storage to files: said so, and a check goes to its reading all the same', () => {
  const refuse = () => {
    Object.defineProperty(IDBFactory.prototype, 'open', {
      value: () => {
        throw new DOMException('storage is off', 'SecurityError');
      },
    });
  };
  return fromDisk({ prepare: refuse }, async (page) => {
    await page.waitForFunction(() => document.querySelector('main').textContent.includes('This browser keeps nothing for this page'));
    await startPractice(page, { check: 'by the coil' });
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    assert.match(await page.textContent('main'), /keeps nothing for this page.*save takes and readings as files/s);
  });
});

test('the policy of the file lets no request out and runs no script but its own', async () => {
  const browser = await launch();
  try {
    const page = await browser.newPage();
    await page.goto(address);
    const outcome = await page.evaluate(async () => {
      const directives = [];
      addEventListener('securitypolicyviolation', (event) => directives.push(event.effectiveDirective));
      const script = document.createElement('script');
      script.textContent = 'window.inlineRan = true';
      document.head.append(script);
      const button = document.createElement('button');
      button.setAttribute('onclick', 'window.handlerRan = true');
      button.click();
      const sheet = document.createElement('style');
      sheet.textContent = 'body { outline: 1px solid }';
      document.head.append(sheet);
      const image = new Image();
      image.src = 'http://127.0.0.1:9/a.png';
      const fetched = await Promise.all(['http://127.0.0.1:9/', 'data:text/plain,a'].map((url) => fetch(url).then(() => 'allowed', () => 'blocked')));
      await new Promise((done) => setTimeout(done, 50));
      return { ran: [window.inlineRan, window.handlerRan], fetched, directives };
    });
    assert.deepEqual(outcome.ran, [undefined, undefined]);
    assert.deepEqual(outcome.fetched, ['blocked', 'blocked']);
    for (const directive of ['script-src-elem', 'script-src-attr', 'style-src-elem', 'img-src', 'connect-src']) {
      assert.ok(outcome.directives.includes(directive), `${directive} not among ${outcome.directives}`);
    }
  } finally {
    await browser.close();
  }
});

test('the hosted page offers the file, and neither loads nor keeps it unasked', () =>
  withPage({}, async ({ page, server }) => {
    const asked = [];
    page.on('request', (request) => asked.push(request.url()));
    await page.reload();
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
    const kept = await page.evaluate(async () => {
      const names = await caches.keys();
      return (await Promise.all(names.map(async (n) => (await (await caches.open(n)).keys()).map((r) => r.url)))).flat();
    });
    assert.ok(kept.some((url) => url.endsWith('/core.wasm')), 'the page itself is kept');
    for (const url of [...kept, ...asked]) assert.ok(!url.includes('conewright.html'), url);

    const [file] = await Promise.all([page.waitForEvent('download'), press(page, 'a', 'Take a copy with you')]);
    assert.equal(file.suggestedFilename(), 'Conewright.html');
    assert.ok((await readFile(await file.path())).equals(await readFile(BUILT)));
    assert.ok(page.url().startsWith(server.address));
  }));
