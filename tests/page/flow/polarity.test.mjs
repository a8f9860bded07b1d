// Polarity and the loose joint on the practice bench, from the start to the reading or the refusal, by the keyboard alone.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { withPage } from '../browser.mjs';
import { keptReadings } from '../kept.mjs';
import { look } from '../looks.mjs';
import { press, startPractice, walk } from '../walk.mjs';

const options = { context: { bypassCSP: true } };

/** Walks to the end; every step that waits is looked at, a running one is not. */
async function through(page, prefix, pick) {
  const findings = [];
  let step = 0;
  await startPractice(page, pick);
  const end = await walk(page, {
    onStep: async (now) => {
      if (!now.stop && prefix) findings.push(...(await look(page, `${prefix}-${++step}`)));
    },
  });
  assert.deepEqual(findings, []);
  return end;
}

test('a push: the cell teaches the input, the driver is told, a second one is compared', () =>
  withPage(options, async ({ page }) => {
    const end = await through(page, 'polarity-push', { check: 'Polarity, by a push' });
    assert.ok(end.read, end.sentence);
    let [{ reading }] = await keptReadings(page);
    assert.deepEqual([reading.chosen.input, reading.chosen.driver_1], ['upright', 'outwards_for_plus']);
    await press(page, '.stub button', 'Another driver');
    // The earlier reading stands there until the next step comes.
    await page.waitForFunction(() => document.querySelector('h1').textContent.startsWith('Driver 2'));
    await walk(page);
    [{ reading }] = await keptReadings(page);
    assert.equal(reading.chosen.driver_2, 'outwards_for_plus');
    assert.match(await page.textContent('main'), /Driver 2: outwards for plus/);
  }));

test('a reversed driver is told with its caution, an unsteady hand is refused', () =>
  withPage(options, async ({ page, server }) => {
    const end = await through(page, '', { check: 'Polarity, by a push', faultBegins: 'wired the other' });
    assert.ok(end.read, end.sentence);
    assert.match(await page.textContent('main'), /inwards for plus[\s\S]*older professional/);
    await page.goto(server.address + '#/');
    await page.waitForSelector('a.plate');
    const refused = await through(page, '', { check: 'Polarity, by a push', faultBegins: 'an unsteady' });
    assert.ok(refused.refused, refused.sentence);
  }));

/** Keeps a bench in the page's store, past the page's own code. */
const keepBench = (page, bench) =>
  page.evaluate(
    (value) =>
      new Promise((done, failed) => {
        const open = indexedDB.open('conewright-bench-store');
        open.onerror = () => failed(open.error);
        open.onsuccess = () => {
          const put = open.result.transaction('settings', 'readwrite').objectStore('settings').put(value, 'bench');
          put.onsuccess = () => (open.result.close(), done());
        };
      }),
    bench,
  );

test('the sign that was learnt stands with the name of its input, and is learnt again when asked', () =>
  withPage(options, async ({ page, server }) => {
    const input = await page.evaluate(async () => {
      const stream = await navigator.mediaDevices.getUserMedia({ audio: true });
      const [track] = stream.getAudioTracks();
      track.stop();
      return track.label;
    });
    await page.waitForSelector('ul.kept, .plates');
    await keepBench(page, { inputInverts: { [input]: true, 'Another input': false } });
    const setup = async () => {
      await page.goto('about:blank');
      await page.goto(`${server.address}#/setup/polarity?sensor=coil`);
      await page.waitForSelector('.input-signs');
    };
    const afterCard = async () => {
      await press(page, 'button.main', 'Open the input');
      const end = await walk(page, { until: (now) => /Which way round|Listening|Push|Connect/.test(now.sentence) });
      return end.sentence;
    };
    await setup();
    assert.match(await page.textContent('.input-signs'), new RegExp(`${input}: turns every signal upside down[\\s\\S]*Another input: keeps the sign`));
    assert.deepEqual(await look(page, 'polarity-signs'), []);
    assert.doesNotMatch(await afterCard(), /Which way round/, 'a known sign is not asked for');
    await setup();
    await press(page, '.input-signs button', `Learn the sign again: ${input}`);
    assert.doesNotMatch(await page.textContent('.input-signs'), new RegExp(`${input}:`));
    assert.match(await afterCard(), /Which way round/);
  }));

test('a click, heard by the microphone', () =>
  withPage(options, async ({ page }) => {
    const end = await through(page, 'polarity-click', { check: 'Polarity, by a click' });
    assert.ok(end.read, end.sentence);
    const [{ reading }] = await keptReadings(page);
    assert.equal(reading.chosen.driver_1, 'outwards_for_plus');
  }));

test('a joint that holds and one that opens', () =>
  withPage(options, async ({ page, server }) => {
    for (const [fault, joint] of [['nothing', 'holds'], ['a joint', 'loose']]) {
      await page.goto(server.address + '#/');
      await page.waitForSelector('a.plate');
      const end = await through(page, joint === 'loose' ? 'loose-joint' : '', { check: 'Loose joint', faultBegins: fault });
      assert.ok(end.read, end.sentence);
      const [{ reading }] = await keptReadings(page);
      assert.equal(reading.chosen.joint, joint);
    }
  }));
