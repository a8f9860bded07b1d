// Polarity and the loose joint on the practice bench, from the start to the reading or the refusal, by the keyboard alone.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { withPage } from '../browser.mjs';
import { keptReadings } from '../kept.mjs';
import { look, VARIANTS } from '../looks.mjs';
import { press, startPractice, walk } from '../walk.mjs';

const options = { context: { bypassCSP: true } };

/** Walks to the end; every step that waits is looked at, a running one is not. */
async function through(page, prefix, pick) {
  const findings = [];
  let step = 0;
  await startPractice(page, pick);
  const end = await walk(page, {
    onStep: async (now) => {
      if (!now.stop) findings.push(...(await look(page, `${prefix}-${++step}`, prefix ? VARIANTS : [])));
    },
  });
  assert.deepEqual(findings, []);
  return end;
}

test('a push: the cell teaches the input, the driver is told, a second one is compared', () =>
  withPage(options, async ({ page }) => {
    const end = await through(page, 'polarity-push', { check: 'Polarity, by a push' });
    assert.ok(end.read, end.sentence);
    let [{ reading }] = await keptReadings(page);
    assert.deepEqual([reading.chosen.input, reading.chosen.driver_1], ['upright', 'outwards_for_plus']);
    await press(page, '.stub button', 'Another driver');
    await walk(page);
    [{ reading }] = await keptReadings(page);
    assert.equal(reading.chosen.driver_2, 'outwards_for_plus');
    assert.match(await page.textContent('main'), /Driver 2: outwards for plus/);
  }));

test('a reversed driver is told with its caution, an unsteady hand is refused', () =>
  withPage(options, async ({ page, server }) => {
    const end = await through(page, '', { check: 'Polarity, by a push', faultBegins: 'wired the other' });
    assert.ok(end.read, end.sentence);
    assert.match(await page.textContent('main'), /inwards for plus[\s\S]*older professional/);
    await page.goto(server.address + '#/');
    await page.waitForSelector('a.plate');
    const refused = await through(page, '', { check: 'Polarity, by a push', faultBegins: 'an unsteady' });
    assert.ok(refused.refused, refused.sentence);
  }));

test('a click, heard by the microphone', () =>
  withPage(options, async ({ page }) => {
    const end = await through(page, 'polarity-click', { check: 'Polarity, by a click' });
    assert.ok(end.read, end.sentence);
    const [{ reading }] = await keptReadings(page);
    assert.equal(reading.chosen.driver_1, 'outwards_for_plus');
  }));

test('a joint that holds and one that opens', () =>
  withPage(options, async ({ page, server }) => {
    for (const [fault, joint] of [['nothing', 'holds'], ['a joint', 'loose']]) {
      await page.goto(server.address + '#/');
      await page.waitForSelector('a.plate');
      const end = await through(page, joint === 'loose' ? 'loose-joint' : '', { check: 'Loose joint', faultBegins: fault });
      assert.ok(end.read, end.sentence);
      const [{ reading }] = await keptReadings(page);
      assert.equal(reading.chosen.joint, joint);
    }
  }));
