// The quickest way to a kept reading: knocks out of a recording, by the keyboard.
import assert from 'node:assert/strict';
import { knockWav } from './fixtures.mjs';
import { press, tabTo, walk } from './walk.mjs';

/** A knock reading out of a WAV: the quickest way to one. */
export async function readKnock(page) {
  await press(page, 'a.plate', 'A recording');
  const chooser = page.waitForEvent('filechooser');
  await press(page, 'button', 'Choose a WAV file');
  await (await chooser).setFiles(knockWav());
  await page.waitForSelector('.files li');
  await tabTo(page, 'fieldset.choice input[type=radio]');
  await page.keyboard.press('ArrowRight');
  await press(page, 'button.main');
  const end = await walk(page);
  assert.ok(end.read, end.sentence);
}
