// Impedance with one input on the practice bench, from the start to a reading or a refusal, by the keyboard alone; every
// screen on the way is looked at.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { truthOf } from '../fixtures.mjs';
import { keptReadings } from '../kept.mjs';
import { look } from '../looks.mjs';
import { startPractice, walk } from '../walk.mjs';

// The policy of the page forbids to put axe into it; the test may.
const options = { context: { bypassCSP: true } };

test('from the start to a true reading: resistor, nothing, driver, resistor again', () =>
  withPage(options, async ({ page }) => {
    const findings = [];
    let step = 0;
    await startPractice(page, { check: 'one channel' });
    const end = await walk(page, {
      patienceMs: 150_000,
      onStep: async (now) => {
        // STOP lingers a moment after a take; what still runs then is looked at in another test.
        if (now.stop) await page.waitForTimeout(600);
        if ((await page.locator('#stop').count()) > 0) return;
        findings.push(...(await look(page, `one-channel-${String(++step).padStart(2, '0')}`)));
      },
    });
    assert.ok(end.read && !end.refused, end.sentence);
    assert.deepEqual(findings, []);
    for (const wanted of ['The known resistor in the', 'nothing in the driver', 'Now the driver', 'once more']) {
      assert.ok(end.sentences.some((s) => s.includes(wanted)), wanted);
    }
    const [kept] = await keptReadings(page);
    const truth = truthOf(loadCore(), kept.practice.driver);
    // Wide enough for one noisy take, narrow enough to tell drivers apart; the core's tests hold it much tighter.
    for (const [name, tolerance] of Object.entries({ f_s_hz: 0.01, q_ms: 0.03, q_es: 0.05, r_e_ohm: 0.03 })) {
      const { value, standard_uncertainty: uncertainty } = kept.reading.values[name];
      assert.ok(Math.abs(value / truth[name] - 1) < tolerance, `${name}: read ${value}, true ${truth[name]}`);
      assert.ok(uncertainty > 0, name);
    }
    assert.match(await page.textContent('main'), /What one input costs/);
  }));

test('a short is refused with its reason', () =>
  withPage(options, async ({ page }) => {
    await startPractice(page, { check: 'one channel', faultBegins: 'the leads touch' });
    const end = await walk(page, { patienceMs: 150_000 });
    assert.ok(end.refused, end.sentence);
    assert.ok((await page.locator('.steps li').count()) > 0, 'a remedy in steps');
  }));
