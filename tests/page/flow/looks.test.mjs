// Every screen, at 390 and 1280 px, light and dark: axe finds nothing, nothing is wider than the window, and the
// pictures lie in target/screenshots to be looked at.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { withPage } from '../browser.mjs';
import { impedanceWav, silentWav } from '../fixtures.mjs';
import { look, VARIANTS } from '../looks.mjs';
import { startPractice, walk } from '../walk.mjs';

// The policy of the page forbids to put axe into it; the test may.
const options = { context: { bypassCSP: true } };

test('screens that wait for nothing', () =>
  withPage(options, async ({ page, server }) => {
    const findings = [];
    const screens = { start: '', practice: 'practice', bench: 'bench', recording: 'recording', missing: 'reading/none', 'setup-impedance': 'setup/impedance', 'setup-one-channel': 'setup/impedance_one_channel', 'setup-knock': 'setup/knock?sensor=coil', 'setup-pair': 'setup/pair', 'setup-microphone': 'setup/knock?sensor=microphone' };
    for (const [name, hash] of Object.entries(screens)) {
      await page.goto(`${server.address}#/${hash}`);
      await page.waitForTimeout(150);
      await page.waitForSelector('h1');
      findings.push(...(await look(page, name, VARIANTS)));
    }
    assert.deepEqual(findings, []);
  }));

/** Walks through a practice check and looks at every step; a running one changes, so it gets one variant at a time. */
async function lookThrough(page, prefix, pick) {
  const findings = [];
  let step = 0;
  let turn = 0;
  await startPractice(page, pick);
  const onStep = async (now) => {
    const live = now.stop;
    const name = `${prefix}-${String(++step).padStart(2, '0')}${live ? '-live' : ''}`;
    findings.push(...(await look(page, name, ...(live ? [[VARIANTS[turn++ % VARIANTS.length]]] : []))));
  };
  await walk(page, { onStep, patienceMs: 150_000 });
  assert.deepEqual(findings, []);
}

test('every step of the impedance check, to the reading', () =>
  withPage(options, ({ page }) => lookThrough(page, 'impedance', { check: 'Impedance' })));

test('every step of the knock check by the coil, to the reading', () =>
  withPage(options, ({ page }) => lookThrough(page, 'knock', { check: 'by the coil' })));

test('a refusal', () =>
  withPage(options, async ({ page, server }) => {
    await page.goto(`${server.address}#/recording`);
    await page.waitForSelector('.drop');
    await page.setInputFiles('input[type=file]', silentWav());
    await page.waitForSelector('.files li');
    await page.click('button.main');
    const end = await walk(page);
    assert.ok(end.refused, end.sentence);
    assert.deepEqual(await look(page, 'refusal'), []);
  }));

test('a recording with a take in it, the reading from it, and the list at the start', () =>
  withPage(options, async ({ page, server }) => {
    await page.goto(`${server.address}#/recording`);
    await page.waitForSelector('.drop');
    await page.setInputFiles('input[type=file]', impedanceWav());
    await page.waitForSelector('.files li');
    const findings = await look(page, 'recording-open');
    await page.fill('input[inputmode=decimal]:visible >> nth=0', '47');
    await page.click('button.main');
    await walk(page);
    findings.push(...(await look(page, 'kept-reading')));
    await page.goto(`${server.address}#/`);
    await page.waitForSelector('ul.kept > li');
    findings.push(...(await look(page, 'start-with-reading')));
    assert.deepEqual(findings, []);
  }));

test('an input that does not open', () =>
  withPage({ ...options, sound: { allow: false } }, async ({ page, server }) => {
    await page.goto(`${server.address}#/setup/knock?sensor=coil`);
    await page.click('button.main');
    await page.waitForSelector('[role=alert]');
    assert.deepEqual(await look(page, 'setup-denied'), []);
  }));
