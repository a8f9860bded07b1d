// The known box by knock on the practice bench: a box too small is asked for again, a true V_as comes of a fitting one.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { keptReadings } from '../kept.mjs';
import { look } from '../looks.mjs';
import { press, startPractice, walk } from '../walk.mjs';

test('a knock in free air, then in a box: V_as', () =>
  withPage({ context: { bypassCSP: true } }, async ({ page }) => {
    const findings = [];
    const driver = loadCore().practice_drivers().find((d) => d.id === 'twelve');
    const own = driver.effective_diameter_m ** 3 / 6;
    const litres = 1000 * (0.8 * driver.truth.v_as_m3 + own);
    await startPractice(page, { check: 'by the coil' });
    await walk(page);
    await press(page, '.stub button', 'In a known box');
    const answer = async (box, more = {}) => {
      const answers = { 'Inner volume of the box': box, "The driver's own volume in the box": 1000 * own, ...more };
      for (const [label, value] of Object.entries(answers)) await page.getByLabel(label).fill(value.toFixed(2));
      await press(page, 'button.main');
    };
    await answer(2, { 'Effective diameter': 1000 * driver.effective_diameter_m });
    await page.waitForSelector('text=more than the driver itself takes');
    // The diameter is known by now.
    await answer(litres);
    const onStep = async (now) => {
      if (/^Close the driver into/.test(now.sentence)) findings.push(...(await look(page, 'box-closed')));
    };
    const end = await walk(page, { onStep });
    assert.ok(end.read, end.sentence);
    findings.push(...(await look(page, 'box-reading')));
    const [{ reading }] = await keptReadings(page);
    const { value, standard_uncertainty: u } = reading.values.v_as_m3;
    // Four standard uncertainties under a fixed seed; the box left out would be no V_as at all.
    assert.ok(Math.abs(value - driver.truth.v_as_m3) < 4 * u && u < 0.1 * value, `${value} ± ${u}, true ${driver.truth.v_as_m3}`);
    assert.deepEqual(findings, []);
  }));
