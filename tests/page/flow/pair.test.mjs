// Two drivers at once on the practice bench: from the start to both columns and their difference, by the keyboard alone.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { keptReadings } from '../kept.mjs';
import { look, VARIANTS } from '../looks.mjs';
import { press, startPractice, tabTo, walk } from '../walk.mjs';

const options = { context: { bypassCSP: true } };
const CHECK = 'Two drivers';

test('open, then one resistor on each: two columns, a true difference', () =>
  withPage(options, async ({ page }) => {
    const findings = [];
    const live = VARIANTS.slice(0, 2);
    const seenAt = async (now) => {
      // A running step changes: a variant at each of two knocks.
      if (now.stop && /^Knock softly/.test(now.sentence) && live.length > 0) findings.push(...(await look(page, 'pair-live', [live.shift()])));
      if (/^Move the resistor/.test(now.sentence)) findings.push(...(await look(page, 'pair-loaded')));
    };
    await startPractice(page, { check: CHECK });
    const open = await walk(page, { onStep: seenAt });
    assert.ok(open.read, open.sentence);
    await press(page, '.stub button', 'A resistor across one');
    await page.waitForSelector('input[inputmode=decimal]');
    const truth = loadCore().practice_pair_truth('twelve');
    for (const ohm of [undefined, truth.first_r_e_ohm, truth.second_r_e_ohm]) {
      await tabTo(page, 'input[inputmode=decimal]');
      if (ohm !== undefined) await page.keyboard.type(ohm.toFixed(2));
    }
    const end = await walk(page, { onStep: seenAt });
    assert.ok(end.read, end.sentence);
    findings.push(...(await look(page, 'pair-reading')));
    const [kept] = await keptReadings(page);
    for (const name of ['f_s', 'q_ms', 'q_es', 'q_ts'].map((n) => `difference_${n}_percent`)) {
      const { value, standard_uncertainty: u } = kept.reading.values[name];
      // Four standard uncertainties; the drivers exchanged would turn the sign of 3 % and more.
      assert.ok(Math.abs(value - truth[name]) < 4 * u && u < 2, `${name}: read ${value} ± ${u}, true ${truth[name]}`);
    }
    const head = await page.locator('section', { hasText: 'Side by side' }).locator('thead th').allTextContents();
    assert.deepEqual(head, ['Figure', 'First', 'Second', 'Difference']);
    assert.deepEqual(findings, []);
  }));

test('one driver at both inputs is refused, a lead that does not connect is named', () =>
  withPage(options, async ({ page, server }) => {
    for (const [faultBegins, words] of [['the input mixes', /carry the same signal/], ['nothing arrives from', /one input carries no signal[\s\S]*It is channel 2/i]]) {
      await page.goto(server.address + '#/');
      await page.waitForSelector('a.plate');
      await startPractice(page, { check: CHECK, faultBegins });
      const end = await walk(page);
      assert.ok(end.refused, end.sentence);
      assert.match(await page.textContent('main'), words);
    }
  }));
