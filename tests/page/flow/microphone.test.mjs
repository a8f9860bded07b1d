// Impedance by microphone on the practice bench, from the start to a reading or a refusal, by the keyboard alone; every
// screen on the way is looked at.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { truthOf } from '../fixtures.mjs';
import { keptReadings } from '../kept.mjs';
import { look } from '../looks.mjs';
import { press, startPractice, walk } from '../walk.mjs';

// The policy of the page forbids to put axe into it; the test may.
const options = { context: { bypassCSP: true } };
const CHECK = 'heard by the microphone';

test('from the start to a true reading: the room, without, with, with and louder, without', () =>
  withPage(options, async ({ page }) => {
    const findings = [];
    let step = 0;
    await startPractice(page, { check: CHECK, driver: 'Marl Six' });
    const end = await walk(page, {
      patienceMs: 200_000,
      onStep: async (now) => {
        // STOP lingers a moment after a take; what still runs then is looked at in another test.
        if (now.stop) await page.waitForTimeout(600);
        if ((await page.locator('#stop').count()) > 0) return;
        findings.push(...(await look(page, `microphone-${String(++step).padStart(2, '0')}`)));
      },
    });
    assert.ok(end.read && !end.refused, end.sentence);
    assert.deepEqual(findings, []);
    for (const wanted of ['the room alone', 'Without the resistor', 'in series with the driver', 'travels as far', 'out again']) {
      assert.ok(end.sentences.some((s) => s.includes(wanted)), wanted);
    }
    const readings = await keptReadings(page);
    assert.equal(readings.length, 1, 'the looks on the way are no readings');
    const [kept] = readings;
    const truth = truthOf(loadCore(), kept.practice.driver);
    // What this equipment can give in a quiet room.
    for (const [name, tolerance] of Object.entries({ f_s_hz: 0.01, q_ts: 0.03, r_e_ohm: 0.03 })) {
      const { value, standard_uncertainty: uncertainty } = kept.reading.values[name];
      assert.ok(Math.abs(value / truth[name] - 1) < tolerance, `${name}: read ${value}, true ${truth[name]}`);
      assert.ok(uncertainty > 0, name);
    }
  }));

test('the forecast stands at the resistor, and a gain that rides is refused', () =>
  withPage(options, async ({ page }) => {
    await startPractice(page, { check: CHECK, faultBegins: 'the input’s gain' });
    const end = await walk(page, { patienceMs: 150_000 });
    assert.ok(end.refused, end.sentence);
    assert.match(end.sentence, /gain/);
    assert.ok((await page.locator('.steps li').count()) > 0, 'a remedy in steps');
  }));

test('the start leads to it by what is at hand', () =>
  withPage(options, async ({ page, server }) => {
    await press(page, 'a.plate', 'An amplifier and one resistor');
    await page.waitForSelector('input');
    assert.match(page.url().slice(server.address.length), /impedance_by_microphone/);
    assert.match(await page.textContent('main'), /between amplifier and driver/);
  }));
