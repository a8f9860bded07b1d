// Readings are kept: listed, opened again, analysed again, deleted with undo, taken along as files; and nothing finished
// is lost to a reload.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { before, test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { knockWav } from '../fixtures.mjs';
import { inStore, keptReadings } from '../kept.mjs';
import { readKnock } from '../read_knock.mjs';
import { press, startPractice, walk } from '../walk.mjs';

let core;
before(() => {
  core = loadCore();
});

const rows = (page) => page.locator('ul.kept > li').count();

async function download(page, label) {
  const [file] = await Promise.all([page.waitForEvent('download'), press(page, 'button', label)]);
  return { name: file.suggestedFilename(), bytes: await readFile(await file.path()) };
}

test('a reading is listed, opened again, analysed again, deleted and put back', () =>
  withPage({}, async ({ page }) => {
    await readKnock(page);
    const sentence = await page.textContent('h1');
    const figures = await page.textContent('.card-body');
    await press(page, '.slip a.back');
    await page.waitForSelector('ul.kept > li');
    assert.equal(await rows(page), 1);

    const named = await page.textContent('ul.kept a.part');
    await press(page, 'ul.kept button', 'Rename');
    await page.waitForSelector('.part-name');
    await page.keyboard.type('Left bass');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelector('ul.kept a.part')?.textContent === 'Left bass');
    await page.reload();
    await page.waitForFunction(() => document.querySelector('ul.kept a.part')?.textContent === 'Left bass');
    assert.equal((await inStore(page, 'takes'))[0].partName, 'Left bass');
    await press(page, 'ul.kept button', 'Rename');
    await page.waitForSelector('.part-name');
    await page.keyboard.type(named);
    await page.keyboard.press('Enter');
    await page.waitForFunction((name) => document.querySelector('ul.kept a.part')?.textContent === name, named);
    await press(page, 'ul.kept a.part');
    await page.waitForFunction((s) => document.querySelector('h1')?.textContent === s, sentence);
    assert.equal(await page.textContent('.card-body'), figures);

    await press(page, 'button', 'Analyse again');
    await page.waitForFunction(async () => location.hash.startsWith('#/reading/'));
    for (let n = 0; (await keptReadings(page)).length < 2; n++) {
      assert.ok(n < 600, 'the second reading does not come');
      await page.waitForTimeout(50);
    }
    const [second, first] = await keptReadings(page);
    assert.deepEqual(second.reading.values, first.reading.values);
    assert.deepEqual(second.takes, first.takes);

    await page.waitForFunction((id) => location.hash.endsWith(id), second.id);
    await press(page, '.slip a.back');
    await page.waitForFunction(() => document.querySelectorAll('ul.kept > li').length === 2);
    await press(page, 'ul.kept button', 'Delete');
    await page.waitForFunction(() => document.querySelectorAll('ul.kept > li').length === 1);
    await press(page, '[role=status] button', 'Put it back');
    await page.waitForFunction(() => document.querySelectorAll('ul.kept > li').length === 2);

    // Both gone: their take goes with the last of them, and comes back with it.
    for (const left of [1, 0]) {
      await press(page, 'ul.kept button', 'Delete');
      await page.waitForFunction((n) => document.querySelectorAll('ul.kept > li').length === n, left);
    }
    assert.ok((await inStore(page, 'takes')).every((t) => t.deletedAt !== undefined));
    await page.reload();
    await page.waitForSelector('.list-empty');
    assert.equal((await keptReadings(page)).length, 0);
  }));

test('a reading goes out as CSV and JSON, its take as WAV, and all of them read back', () =>
  withPage({}, async ({ page }) => {
    await readKnock(page);
    const [{ reading, takes }] = await keptReadings(page);

    for (const name of ['Touchstone', 'SPICE']) {
      assert.equal(await page.locator('button', { hasText: name }).count(), 0, `knocks give no impedance for ${name}`);
    }
    const csv = await download(page, 'CSV');
    assert.match(csv.name, /^knock-knock-\d{4}-\d\d-\d\d\.csv$/);
    const lines = csv.bytes.toString('utf8').split('\r\n');
    const figure = lines.find((l) => l.startsWith('figures,f_s_hz,')).split(',');
    assert.equal(Number(figure[2]), reading.values.f_s_hz.value);
    assert.equal(Number(figure[3]), reading.values.f_s_hz.standard_uncertainty);
    assert.ok(lines.some((l) => /^table,(time_s|frequency_hz),/.test(l)), 'curves follow');

    const json = JSON.parse((await download(page, 'JSON')).bytes.toString('utf8'));
    assert.equal(json.schema, 1);
    assert.equal(json.check, 'knock');
    assert.deepEqual(json.values, reading.values);
    const curve = json.curves.ring.time_s;
    assert.ok(Array.isArray(curve) && curve.length > 10);

    const wav = core.read_wav(await download(page, 'WAV').then((f) => f.bytes));
    const { take } = core.read_wav(await readFile(knockWav()));
    assert.equal(wav.take.rateHz, take.rateHz);
    assert.deepEqual(wav.take.channels[0], take.channels[0]);
    // A take from a 16-bit file costs two bytes a sample.
    const [stored] = await inStore(page, 'takes');
    assert.equal(stored.id, takes[0].id);
    assert.equal(stored.bytes, 2 * take.channels.length * take.channels[0].length);
  }));

test('a reading prints: the card alone, with the budgets unfolded and every figure with its uncertainty', () =>
  withPage({}, async ({ page }) => {
    await readKnock(page);
    await page.evaluate(() => {
      window.printed = 0;
      window.print = () => void (window.printed += 1);
    });
    await press(page, 'button', 'Print');
    assert.equal(await page.evaluate(() => window.printed), 1);
    await page.emulateMedia({ media: 'print' });
    await page.waitForFunction(() => document.querySelector('details.budgets').open);
    const paper = await page.evaluate(() => {
      const shown = (selector) => [...document.querySelectorAll(selector)].some((e) => e.getClientRects().length > 0);
      return { stub: shown('.stub'), head: shown('.page-head'), leads: shown('.leads'), colour: getComputedStyle(document.body).backgroundColor, figures: document.querySelector('.leads').textContent };
    });
    assert.deepEqual({ ...paper, figures: '' }, { stub: false, head: false, leads: true, colour: 'rgb(255, 255, 255)', figures: '' });
    assert.match(paper.figures, /±/);
  }));

test('a reload in the middle of a check loses no finished take, and the check goes on where it stood', () =>
  withPage({}, async ({ page }) => {
    await startPractice(page, { check: 'Impedance' });
    await walk(page, { until: (now) => now.stop });
    // The run is written down once the core has looked at its first take.
    for (let n = 0; (await inStore(page, 'runs')).length < 1; n++) {
      assert.ok(n < 400, 'no take comes');
      await page.waitForTimeout(50);
    }
    const before = await inStore(page, 'takes');
    page.on('dialog', (dialog) => void dialog.accept());
    await page.reload();
    await page.waitForSelector('h1');
    const after = await inStore(page, 'takes');
    assert.ok(after.length >= before.length);
    for (const take of before) assert.ok(after.some((t) => t.id === take.id && t.deletedAt === undefined));
    const samples = await inStore(page, 'samples');
    for (const take of before) {
      const kept = samples.find((s) => s.id === take.id);
      assert.equal(kept.sampleBytes, take.bytes);
    }
    // From the start the check goes on: what is measured already is not measured again.
    await press(page, '.slip a.back');
    await page.waitForSelector('ul.kept > li');
    await press(page, 'a.text-button', 'Go on');
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    const [{ takes }] = await keptReadings(page);
    const finished = await inStore(page, 'takes');
    assert.ok(before.every((take) => finished.some((t) => t.id === take.id)));
    assert.ok(takes.length > 0);

    // What no reading was made from can go, and come back; the reading stays whole and can be analysed again.
    const used = takes.map((t) => t.id).sort();
    const there = async () => (await inStore(page, 'takes')).filter((t) => t.deletedAt === undefined).map((t) => t.id).sort();
    assert.ok((await there()).length > used.length);
    await press(page, '.slip a.back');
    await page.waitForSelector('ul.kept > li');
    await press(page, '.stub button', 'Delete these takes');
    await page.waitForSelector('.said');
    assert.deepEqual(await there(), used);
    await press(page, '[role=status] button', 'Put it back');
    await page.waitForFunction(() => document.querySelector('.said') === null);
    assert.equal((await there()).length, finished.length);
    await press(page, '.stub button', 'Delete these takes');
    await page.waitForSelector('.said');
    await press(page, 'ul.kept button', 'Analyse again');
    await page.waitForFunction(() => location.hash.startsWith('#/reading/'));
    const [again, first] = await keptReadings(page);
    assert.deepEqual(again.reading.values, first.reading.values);
  }));
