// Both checks on the practice bench, from the start to a reading or a refusal, by the keyboard alone.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { truthOf } from '../fixtures.mjs';
import { keptReadings } from '../kept.mjs';
import { startPractice, walk } from '../walk.mjs';

async function readAndCompare(page, check, tolerances) {
  await startPractice(page, { check });
  const end = await walk(page);
  assert.ok(end.read && !end.refused, end.sentence);
  const [kept] = await keptReadings(page);
  const truth = truthOf(loadCore(), kept.practice.driver);
  for (const [name, tolerance] of Object.entries(tolerances)) {
    const { value, standard_uncertainty: uncertainty } = kept.reading.values[name];
    assert.ok(Math.abs(value / truth[name] - 1) < tolerance, `${name}: read ${value}, true ${truth[name]}`);
    assert.ok(uncertainty > 0, name);
  }
}

// Tolerances: a reading in the page has to be the one that the accuracy tests of the core hold much tighter; these are
// wide enough for a single noisy take (goals of the methods times five) and narrow enough to tell drivers apart.
test('impedance on the practice bench: from the start to a true reading, by keyboard', () =>
  withPage({}, ({ page }) => readAndCompare(page, 'Impedance', { f_s_hz: 0.01, q_ms: 0.03, q_es: 0.03, r_e_ohm: 0.02 })));

test('knock by the coil on the practice bench: from the start to a true reading, by keyboard', () =>
  withPage({}, ({ page }) => readAndCompare(page, 'by the coil', { f_s_hz: 0.01, q_ms: 0.03 })));

test('knock by the microphone on the practice bench: from the start to a true reading, by keyboard', () =>
  withPage({}, ({ page }) => readAndCompare(page, 'by the microphone', { f_s_hz: 0.02, q_ms: 0.15 })));

test('Esc, STOP and the space bar each end a running take, say so, and the check goes on to its reading', () =>
  withPage({}, async ({ page }) => {
    await startPractice(page, { check: 'Impedance' });
    for (const key of ['Escape', 'Enter', 'Space']) {
      await walk(page, { until: (now) => now.playing });
      // STOP has the focus as soon as something plays; the two other keys work from anywhere.
      if (key === 'Enter') assert.equal(await page.evaluate(() => document.activeElement.id), 'stop');
      else await page.evaluate(() => document.activeElement.blur());
      await page.keyboard.press(key);
      await page.waitForFunction(() => document.querySelector('main').textContent.includes('The take that ran does not count'));
      await page.waitForFunction(() => document.querySelector('[role=progressbar]') === null);
    }
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
  }));

test('faults of the bench are refused with reason and remedy, and the takes are kept', () =>
  withPage({}, async ({ page, server }) => {
    const cases = [
      ['Impedance', 'nothing arrives from the driver'],
      ['by the coil', 'nobody knocks'],
    ];
    for (const [check, begin] of cases) {
      await page.goto(server.address + '#/');
      await page.waitForSelector('a.plate');
      await startPractice(page, { check, faultBegins: begin });
      const end = await walk(page);
      assert.ok(end.refused, `${begin}: ${end.sentence}`);
      assert.ok((await page.locator('.steps li').count()) > 0, 'a remedy in steps');
      assert.match(await page.textContent('main'), /kept/);
    }
  }));
