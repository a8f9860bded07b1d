// Matching: four kept readings, two of them with a stiffer surround; by keyboard from the start to the best pairing.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { putReadings } from '../kept.mjs';
import { look } from '../looks.mjs';
import { press, tabTo } from '../walk.mjs';

const options = { context: { bypassCSP: true } };
const SETUP = { check: 'impedance', series_resistor_ohm: 47, source_channel: 1, driver_channel: 2 };
const sweep = { shape: 'sweep', rate_hz: 48_000, period_s: 1, periods: 6, low_hz: 8, high_hz: 20_000, peak_dbfs: -6, seed: 1 };

/** What the practice bench's woofer gives with a fault, as the page keeps it. */
function reading(core, partName, fault, seed) {
  const take = core.practice_play({ driver: 'six', fault, position: { kind: 'driver' }, rate_hz: 48_000, seed }, core.render(sweep));
  const setup = { ...SETUP, takes: [{ role: 'driver' }] };
  const found = core.analyse(JSON.stringify(setup), [take]);
  assert.equal(found.outcome, 'reading', `${partName}: ${JSON.stringify(found.refusal ?? found.warnings)}`);
  return { id: partName, createdAt: seed, check: 'impedance', partName, note: '', source: 'recording', takes: [], setup: SETUP, reading: found };
}

test('four parts: the two stiff ones go together, the answer leaves with its question, a lone part is told', () => {
  const core = loadCore();
  const parts = [
    ['Marl A', 'none', 1],
    ['Marl B', 'stiff_surround', 2],
    ['Marl C', 'none', 3],
    ['Marl D', 'stiff_surround', 4],
  ].map(([name, fault, seed]) => reading(core, name, fault, seed));
  return withPage(options, async ({ page }) => {
    await putReadings(page, parts.slice(0, 1));
    await page.reload();
    await page.waitForSelector('.kept .part');
    assert.equal(await page.locator('a[href="#/match"]').count(), 0, 'one reading is no set');
    await putReadings(page, parts.slice(1));
    await page.reload();
    await press(page, 'a[href="#/match"]');
    await page.waitForSelector('fieldset .ticks');
    assert.match(await page.textContent('.stub'), /Tick two/);
    for (let n = 0; n < 4; n++) {
      await tabTo(page, 'fieldset .ticks input:not(:checked)');
      await page.keyboard.press('Space');
    }
    await press(page, 'button.main', 'Compare');
    await page.waitForSelector('.pair');
    assert.deepEqual((await page.locator('.pair h3').allTextContents()).sort(), ['Marl C with Marl A', 'Marl D with Marl B']);
    const said = await page.textContent('main');
    assert.match(said, /a good pair/);
    assert.match(said, /surely worse/);
    assert.deepEqual(await look(page, 'match'), []);

    // The stiff one alone with a sound one: beyond the limit, and what was said before is gone at once.
    await page.locator('fieldset .ticks input').nth(0).uncheck();
    assert.equal(await page.locator('.pair').count(), 0);
    await page.locator('fieldset .ticks input').nth(3).uncheck();
    await press(page, 'button.main', 'Compare');
    await page.waitForSelector('.pair');
    assert.match(await page.textContent('.pair'), /too far apart[\s\S]*resonance/);

    // A limit that makes no sense waits to be mended.
    await page.locator('summary', { hasText: 'Limits' }).click();
    await page.locator('details .fields input').first().fill('50');
    assert.match(await page.textContent('.stub'), /Each limit/);
  });
});
