// The real sound road in the page: an input that is denied, missing or mono; and knocks that come in as sound.
import assert from 'node:assert/strict';
import { before, test } from 'node:test';
import { loadCore } from '../../../pkg-scripts/core.mjs';
import { withPage } from '../browser.mjs';
import { knockWav, truthOf } from '../fixtures.mjs';
import { inStore, keptReadings } from '../kept.mjs';
import { press, tabTo, walk } from '../walk.mjs';

let core;
before(() => {
  core = loadCore();
});

/** Fills in what the set-up asks for and opens the input. */
async function openInput(page, plate, { resistor } = {}) {
  await press(page, 'a.plate', plate);
  await page.waitForSelector('button.main');
  if (resistor) {
    await tabTo(page, 'input[inputmode=decimal]');
    await page.keyboard.type(resistor);
  }
  await press(page, 'button.main', 'Open the input');
}

/** The trouble that the page tells, and that its selectors are still there. */
async function told(page) {
  await page.waitForSelector('[role=alert]');
  assert.equal(await page.locator('select').count() > 0, true, 'the choice of the input stays');
  assert.equal(await page.locator('button.main', { hasText: 'Try again' }).count(), 1);
  return page.textContent('[role=alert]');
}

test('permission denied: said so, with the way out', () =>
  withPage({ sound: { allow: false } }, async ({ page }) => {
    await openInput(page, 'A cable into the input');
    assert.match(await told(page), /does not let this page use the sound input.*Allow the microphone/s);
  }));

test('no device: said so, with the way out', () =>
  withPage({ sound: { device: false } }, async ({ page }) => {
    await openInput(page, 'A cable into the input');
    assert.match(await told(page), /No sound input was found.*Plug in/s);
  }));

test('one channel is not enough for impedance: said so, and the knock goes on with it', () =>
  withPage({}, async ({ page }) => {
    await page.evaluate(() => {
      const open = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
      navigator.mediaDevices.getUserMedia = async (constraints) => {
        const context = new AudioContext();
        const destination = new MediaStreamAudioDestinationNode(context, { channelCount: 1 });
        context.createMediaStreamSource(await open(constraints)).connect(destination);
        return destination.stream;
      };
    });
    await openInput(page, 'A stereo line input', { resistor: '47' });
    assert.match(await told(page), /one channel only; this check needs two.*stereo line input/s);
    await press(page, '.slip a.back');
    await openInput(page, 'A cable into the input');
    await page.waitForSelector('.stations');
  }));

test('what the browser does not tell of the input is said to be unknown, and unequal rates are told', () =>
  withPage({}, async ({ page }) => {
    // The shape of the answer of an engine that knows one stage only, at a device rate of its own.
    await page.evaluate(() => {
      const open = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
      navigator.mediaDevices.getUserMedia = async (constraints) => {
        const stream = await open(constraints);
        const track = stream.getAudioTracks()[0];
        const { deviceId } = track.getSettings();
        track.getSettings = () => ({ deviceId, echoCancellation: false, sampleRate: 96_000 });
        return stream;
      };
    });
    await openInput(page, 'A cable into the input');
    await page.waitForSelector('.stations');
    const strip = await page.textContent('.open-strip');
    assert.match(strip, /does not tell whether it alters the input/);
    assert.match(strip, /different rates/);
    assert.match(strip, /automatic gainnot told by this browser/);
    assert.match(strip, /The device’s own rate96.?000/);
    assert.match(strip, /Channels2/);
  }));

test('a second tab is told that the first has the sound', () =>
  withPage({}, async ({ page, context, server }) => {
    await openInput(page, 'A cable into the input');
    await page.waitForSelector('.stations');
    const other = await context.newPage();
    await other.goto(server.address);
    await openInput(other, 'A cable into the input');
    assert.match(await told(other), /Another tab or window.*Close the other one/s);
  }));

test('knocks that come in as sound become a reading', async () => {
  // Chromium's fake input runs at 44.1 kHz and would resample any other file.
  const wav = knockWav(44_100, core, 'knock-44100.wav');
  await withPage({ sound: { wav } }, async ({ page }) => {
    await page.evaluate(() => {
      window.looks = 0;
      const post = Worker.prototype.postMessage;
      Worker.prototype.postMessage = function (message, ...rest) {
        window.looks += message.name === 'spot_knocks' ? 1 : 0;
        return post.call(this, message, ...rest);
      };
    });
    await openInput(page, 'A cable into the input');
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
    // All that was heard so far is copied for a look only now and then, never with each chunk of the sound.
    const chunks = (await inStore(page, 'takes')).reduce((sum, t) => sum + t.frames / 8192, 0);
    const looks = await page.evaluate(() => window.looks);
    assert.ok(looks > 1 && looks <= chunks / 3, `${looks} looks in ${chunks.toFixed(0)} chunks`);
    const [{ reading, source }] = await keptReadings(page);
    assert.equal(source, 'live');
    const f = reading.values.f_s_hz.value;
    assert.ok(Math.abs(f / truthOf(core).f_s_hz - 1) < 0.01, `f_s ${f}`);
    const [take] = await inStore(page, 'takes');
    assert.equal(take.source, 'live');
    // What was known of the input is kept with the take.
    assert.equal(take.facts.rateHz, take.rateHz);
    assert.equal(take.facts.processing.auto_gain_control, 'off');
  });
});

test('a take that is lost because the page went out of sight says so and is taken again', () =>
  withPage({ sound: { wav: knockWav(44_100, core, 'knock-44100.wav') } }, async ({ page }) => {
    await openInput(page, 'A cable into the input');
    await walk(page, { until: (now) => now.stop });
    await page.evaluate(() => {
      const show = (state) => {
        Object.defineProperty(document, 'visibilityState', { value: state, configurable: true });
        document.dispatchEvent(new Event('visibilitychange'));
      };
      show('hidden');
      show('visible');
    });
    await page.waitForFunction(() => document.querySelector('main').textContent.includes('out of sight during the take'));
    const end = await walk(page);
    assert.ok(end.read, end.sentence);
  }));
