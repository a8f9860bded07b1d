// A reading goes out to programs of circuit design, where it holds what they need.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { test } from 'node:test';
import { withPage } from '../browser.mjs';
import { impedanceWav } from '../fixtures.mjs';
import { keptReadings } from '../kept.mjs';
import { press, walk } from '../walk.mjs';

async function download(page, label) {
  const [file] = await Promise.all([page.waitForEvent('download'), press(page, 'button', label)]);
  return { name: file.suggestedFilename(), text: await readFile(await file.path(), 'utf8') };
}

test('an impedance reading goes out as Touchstone and SPICE, named after the part', () =>
  withPage({}, async ({ page, server }) => {
    await page.goto(`${server.address}#/recording`);
    await page.waitForSelector('.drop');
    await page.setInputFiles('input[type=file]', impedanceWav());
    await page.waitForSelector('.files li');
    await page.getByLabel('Part').fill('Left: 8" / upper?');
    await page.fill('input[inputmode=decimal]:visible >> nth=0', '47');
    await page.click('button.main');
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    const [{ reading }] = await keptReadings(page);

    const touchstone = await download(page, 'Touchstone');
    assert.match(touchstone.name, /^Left-8-upper-impedance-\d{4}-\d\d-\d\d\.s1p$/);
    const lines = touchstone.text.trimEnd().split('\n');
    const options = lines.findIndex((l) => l.startsWith('#'));
    assert.equal(lines[options], '# HZ Z MA R 1');
    const rows = lines.slice(options + 1).map((l) => l.split('!')[0].trim().split(' ').map(Number));
    const { frequency_hz, magnitude_ohm, phase_deg } = reading.curves.impedance;
    assert.deepEqual(rows, Array.from(frequency_hz, (f, i) => [f, magnitude_ohm[i], phase_deg[i]]));

    const spice = await download(page, 'SPICE');
    assert.match(spice.name, /^Left-8-upper-impedance-\d{4}-\d\d-\d\d\.cir$/);
    assert.match(spice.text, /^\.subckt left_8_upper plus minus$/m);
    const r_e = Number(/^re plus n1 (\S+)$/m.exec(spice.text)[1]);
    assert.ok(Math.abs(r_e / reading.values.r_e_ohm.value - 1) < 1e-10, `R_e ${r_e}`);
    assert.match(spice.text, /from the fitted circuit [\d.]+ % of \|Z\|, at|exactly the fitted circuit/);
  }));
