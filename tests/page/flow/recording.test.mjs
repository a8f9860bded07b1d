// A recording made elsewhere goes the same way: chosen, read, refused where it has to be.
import assert from 'node:assert/strict';
import { before, test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { brokenWav, impedanceWav, knockWav, truthOf } from '../fixtures.mjs';
import { keptReadings } from '../kept.mjs';
import { press, tabTo, walk } from '../walk.mjs';

let core;
before(() => {
  core = loadCore();
});

/** Opens the screen by keyboard and gives it the file that the person would choose. */
async function openRecording(page, file) {
  await press(page, 'a.plate', 'A recording');
  const chooser = page.waitForEvent('filechooser');
  await press(page, 'button', 'Choose a WAV file');
  await (await chooser).setFiles(file);
}

test('a two-channel sweep from a WAV becomes an impedance reading', () =>
  withPage({}, async ({ page }) => {
    await openRecording(page, impedanceWav(core));
    await page.waitForSelector('.files li');
    await tabTo(page, 'input[inputmode=decimal]');
    await page.keyboard.type('47');
    await press(page, 'button.main');
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    const [{ reading, source }] = await keptReadings(page);
    assert.equal(source, 'recording');
    // One per cent tells the practice drivers apart by far; the core's own tests hold it tighter.
    assert.ok(Math.abs(reading.values.f_s_hz.value / truthOf(core).f_s_hz - 1) < 0.01);
    assert.ok(Math.abs(reading.values.q_ts.value / truthOf(core).q_ts - 1) < 0.03);
  }));

test('knocks from a WAV become a knock reading', () =>
  withPage({}, async ({ page }) => {
    await openRecording(page, knockWav());
    await page.waitForSelector('.files li');
    await tabTo(page, 'fieldset.choice input[type=radio]');
    await page.keyboard.press('ArrowRight');
    await press(page, 'button.main');
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    const [{ check, reading }] = await keptReadings(page);
    assert.equal(check, 'knock');
    assert.ok(Math.abs(reading.values.f_s_hz.value / truthOf(core).f_s_hz - 1) < 0.01);
  }));

test('a file that is no WAV is named with what is wrong, and nothing else happens', () =>
  withPage({}, async ({ page }) => {
    await openRecording(page, brokenWav());
    await page.waitForSelector('.fault');
    assert.match(await page.textContent('.fault'), /could not be read: broken\.wav\. .{10,}/);
    assert.equal(await page.locator('.files li').count(), 0);
  }));

test('a dropped file is taken as well', () =>
  withPage({}, async ({ page }) => {
    const bytes = [...core.write_wav({ rateHz: 48_000, channels: [new Float32Array(4800).fill(0.1)] }, 'int16')];
    await press(page, 'a.plate', 'A recording');
    await page.waitForSelector('.drop');
    await page.evaluate((content) => {
      const data = new DataTransfer();
      data.items.add(new File([new Uint8Array(content)], 'dropped.wav', { type: 'audio/wav' }));
      document.querySelector('.drop').dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
    }, bytes);
    await page.waitForSelector('.files li');
    assert.match(await page.textContent('.files'), /dropped\.wav.*one channel/s);
  }));
