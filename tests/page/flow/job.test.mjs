// A job from its card to its papers, by the keyboard alone and at both widths; own verdicts, undoing, filing.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { withPage } from '../browser.mjs';
import { inStore, keptReadings } from '../kept.mjs';
import { look, VARIANTS } from '../looks.mjs';
import { press, startPractice, tabTo, walk } from '../walk.mjs';

/** Tabs to the entry with this label and types. */
async function fill(page, label, text) {
  for (let n = 0; n < 150; n++) {
    await page.keyboard.press('Tab');
    if (await page.evaluate((l) => document.activeElement?.labels?.[0]?.textContent.includes(l), label)) {
      await page.keyboard.press('Control+A');
      await page.keyboard.type(text);
      return;
    }
  }
  throw new Error(`no entry "${label}" within 150 tabs`);
}

const job = async (page) => (await inStore(page, 'jobs')).at(-1).job;
const heading = (page, text) => page.waitForFunction((t) => document.querySelector('h1')?.textContent.includes(t), text);

/** From the start to a job with one pair of drivers. */
async function beginJob(page) {
  await press(page, 'button.main', 'Begin a job');
  await heading(page, 'Card of the job');
  await fill(page, 'What it is', 'Sedge two-way, pair');
  await fill(page, 'Number of the job', '17');
  await fill(page, 'What the owner asks for', 'no buzz');
  await fill(page, 'Technician', 'T');
  await fill(page, 'Band or place', 'bass');
  await press(page, 'button', 'Add a pair');
  await page.waitForFunction(() => document.querySelectorAll('.part-rows li').length === 2);
}

for (const { width, height } of VARIANTS.slice(0, 2)) {
  test(`a job at ${width} px from its card to the printed record: limits, a check that files itself, own verdict, order sheet, by keyboard`, () =>
    withPage({ context: { viewport: { width, height } } }, async ({ page }) => {
      const only = VARIANTS.filter((v) => v.width === width && v.scheme === (width === 390 ? 'dark' : 'light'));
      const findings = [];
      await beginJob(page);
      await press(page, 'summary', 'Limits within a pair');
      await fill(page, 'resonance, acceptable', '4');
      await page.waitForFunction(() => document.querySelector('[data-saved=true]') !== null);
      assert.deepEqual((await job(page)).pair_limits, [{ name: 'f_s_hz', good: 0.03, acceptable: 0.04 }]);
      findings.push(...(await look(page, 'job-card', only)));
      await press(page, 'a', 'To the job');
      await page.waitForSelector('.next-step');
      assert.match(await page.textContent('.next-step'), /Left bass: look/);

      // A figure to be met, for both.
      await press(page, 'a', 'Left');
      await heading(page, 'Left bass');
      await press(page, 'summary', 'Enter a figure');
      await fill(page, 'Value', '26.3');
      await press(page, 'button', 'Put it on the card');
      await page.waitForSelector('#references ~ .part-rows li');
      assert.deepEqual((await job(page)).parts.map((p) => p.references[0]?.value), [26.3, 26.3]);

      // A knock on the practice bench files itself under the part that it was begun for.
      await press(page, 'a.back');
      await page.waitForSelector('.next-step');
      await press(page, 'a.cell', 'Left bass, knock: to do');
      await heading(page, 'Left bass');
      await press(page, 'a', 'Practice bench');
      await page.waitForSelector('.driver-choice');
      await startPractice(page, { check: 'by the coil', there: true });
      const end = await walk(page);
      assert.ok(end.read, end.sentence);
      const [kept] = await keptReadings(page);
      await press(page, 'a.back');
      await heading(page, 'Left bass');
      assert.equal((await job(page)).parts[0].filed[0].reading, kept.id);
      await page.waitForFunction(() => document.querySelector('.part-checks')?.textContent.includes('26.3'));
      findings.push(...(await look(page, 'job-part', only)));

      // A person's own verdict stands beside what was measured, and can be taken back.
      await press(page, 'a.back');
      await page.waitForSelector('.next-step');
      await press(page, 'a.cell', 'Left bass, knock: pass, 26.3');
      await heading(page, 'Left bass');
      await press(page, '.part-checks button', 'Set the verdict yourself');
      await fill(page, 'Your reason', 'Another series.');
      await press(page, 'button', 'Keep it');
      await page.waitForFunction(() => document.querySelector('.part-checks').textContent.includes('As measured: pass'));
      await press(page, 'button', 'Undo');
      await page.waitForFunction(() => !document.querySelector('.part-checks').textContent.includes('As measured'));
      assert.deepEqual((await job(page)).parts[0].overrides, []);

      await press(page, 'a.back');
      await page.waitForSelector('.next-step');
      findings.push(...(await look(page, 'job-grid', only)));

      // Out to the specialist, and the record to the owner.
      for (const [paper, name] of [['Order sheet', 'order'], ['record', 'record']]) {
        await press(page, 'a', 'Papers');
        await page.waitForSelector('.paper-list');
        await press(page, '.paper-list a', paper);
        await page.waitForSelector(`.paper-body.${name} .paper-title`);
        if (name === 'order') {
          await tabTo(page, 'input[type=checkbox]');
          await page.keyboard.press('Space');
          await page.waitForFunction(() => document.querySelector('.paper-body').textContent.includes('Left bass'));
          assert.equal((await job(page)).parts[0].order.wanted, true);
        } else {
          assert.match(await page.textContent('.paper-body'), /found 26\.2\d/);
          await tabTo(page, 'button.main', 'Print');
          assert.ok((await page.pdf({ format: 'A4' })).length > 10_000, 'a printed record');
        }
        findings.push(...(await look(page, `job-${name}`, only)));
        await press(page, 'a', 'To the job');
        await page.waitForSelector('.next-step');
      }
      assert.deepEqual(findings, []);
    }));
}

test('a kept reading is filed into a job that it begins; parts and jobs come back when deletion is undone', () =>
  withPage({}, async ({ page, server }) => {
    await startPractice(page, { check: 'by the coil' });
    await walk(page);
    const [kept] = await keptReadings(page);
    await page.goto(server.address + '#/');
    await page.waitForSelector('.kept a.part');
    await press(page, 'a', 'into a job');
    await heading(page, 'File this reading');
    await press(page, 'button', 'File it');
    await page.waitForSelector('.part-checks');
    const { id, parts } = await job(page);
    assert.deepEqual([parts.length, parts[0].filed[0].reading], [1, kept.id]);

    await page.goto(`${server.address}#/job/${id}/card`);
    await heading(page, 'Card of the job');
    await press(page, 'button', 'Take out of the job');
    await page.waitForFunction(() => document.querySelectorAll('.part-rows li').length === 0);
    await press(page, 'button', 'Undo');
    await page.waitForFunction(() => document.querySelectorAll('.part-rows li').length === 1);
    assert.equal((await job(page)).parts[0].filed[0].reading, kept.id);

    await page.goto(server.address + '#/');
    await press(page, 'button', 'Delete the job');
    await page.waitForFunction(() => document.querySelector('#jobs').closest('section').querySelector('a.part') === null);
    await press(page, 'button', 'Undo');
    await page.waitForFunction(() => document.querySelector('#jobs').closest('section').querySelector('a.part') !== null);
  }));
