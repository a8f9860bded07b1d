// The sound road by itself, in a real browser with a fake input device.
import assert from 'node:assert/strict';
import { before, test } from 'node:test';
import { watch, withPage } from '../browser.mjs';
import { buildWorkshop } from '../workshop.mjs';

let site;
before(async () => {
  site = await buildWorkshop();
});

/** Opens the bare page and makes the gesture without which no context starts. */
const inWorkshop = (sound, act) =>
  withPage({ site, sound, args: ['--autoplay-policy=user-gesture-required'] }, async ({ page, context, server }) => {
    await page.click('button');
    await act(page, context, server.address);
  });

/** Code of the problem with which opening fails. */
const openingProblem = (page, options = {}) =>
  page.evaluate((o) => audio.openSession(o).then((session) => (session.close(), 'opened'), (e) => e.code ?? String(e)), options);

test('sound: a played take has the length asked for, at the rate of the context, unprocessed', () =>
  inWorkshop({}, async (page) => {
    const found = await page.evaluate(async () => {
      const session = await audio.openSession({});
      const levels = [];
      const rate = session.facts.rateHz;
      const samples = new Float32Array(rate / 2).fill(0.25);
      const take = await session.playAndRecord(samples, 0.5, undefined, (l) => levels.push(l));
      session.close();
      return {
        rate,
        lengths: take.channels.map((c) => c.length),
        peak: take.channels[0].reduce((p, s) => Math.max(p, Math.abs(s)), 0),
        voided: take.voided?.code,
        processing: session.facts.processing,
        label: session.facts.inputLabel,
        outputs: levels.map((l) => l.outputPeakDbfs).filter((l) => l !== undefined),
      };
    });
    assert.equal(found.voided, undefined);
    const wanted = Math.round(found.rate * 0.25) + found.rate / 2 + found.rate * 0.5;
    for (const length of found.lengths) assert.equal(length, wanted);
    assert.ok(found.peak > 0.1, `the fake device beeps, its peak was ${found.peak}`);
    for (const state of Object.values(found.processing)) assert.equal(state, 'off');
    assert.ok(found.label.length > 0);
    assert.ok(found.outputs.some((l) => Math.abs(l - 20 * Math.log10(0.25)) < 1e-3));
  }));

test('sound: STOP makes the output silent at once, without waiting for anything, and the take void', () =>
  inWorkshop({}, async (page) => {
    const found = await page.evaluate(async () => {
      const session = await audio.openSession({});
      const graph = await session.ready();
      const running = session.playAndRecord(new Float32Array(graph.context.sampleRate * 3).fill(0.5), 0.5);
      const until = async (met) => {
        while (!met()) await new Promise((done) => setTimeout(done, 5));
      };
      await until(() => graph.output.gain.value === 1);
      // Told to the sound road before stop() returns: nothing is awaited, and no message has to get through.
      const ramps = [];
      const ramp = graph.output.gain.linearRampToValueAtTime.bind(graph.output.gain);
      graph.output.gain.linearRampToValueAtTime = (value, at) => (ramps.push([value, at - graph.context.currentTime]), ramp(value, at));
      session.stop();
      const told = [...ramps];
      const stoppedAt = graph.context.currentTime;
      const take = await running;
      await until(() => graph.context.currentTime >= stoppedAt + 0.05);
      return { told, after: graph.output.gain.value, code: take.voided?.code, frames: take.channels[0].length };
    });
    assert.equal(found.told.length, 1);
    assert.equal(found.told[0][0], 0);
    assert.ok(found.told[0][1] <= 0.005 + 1e-9, `silent after ${found.told[0][1]} s of the clock`);
    assert.equal(found.after, 0);
    assert.equal(found.code, 'stopped');
    assert.ok(found.frames > 0, 'what was recorded until then is handed over');
  }));

test('sound: listening gives live chunks in order and ends when told', () =>
  inWorkshop({}, async (page) => {
    const found = await page.evaluate(async () => {
      const session = await audio.openSession({});
      const times = [];
      let frames = 0;
      const onChunk = (channels, fromS) => (times.push(fromS), (frames += channels[0].length));
      const listening = await session.listen({ maxS: 20, onChunk });
      while (times.length < 5) await new Promise((done) => setTimeout(done, 20));
      const take = await listening.stop();
      session.close();
      return { times, frames, length: take.channels[0].length, voided: take.voided?.code, rate: take.rateHz };
    });
    assert.equal(found.voided, undefined);
    for (let n = 1; n < found.times.length; n++) {
      const step = (found.times[n] - found.times[n - 1]) * found.rate;
      assert.ok(step >= 8192 - 1e-6 && Math.abs(step - Math.round(step)) < 1e-6, String(step));
    }
    assert.ok(found.length > 4 * 8192 && found.length <= found.frames);
  }));

test('sound: a page out of sight voids the take, and the next one is opened anew', () =>
  inWorkshop({}, async (page) => {
    const found = await page.evaluate(async () => {
      const session = await audio.openSession({});
      const first = await session.ready();
      const heard = [];
      session.onTrouble((problem) => heard.push(problem.code));
      const running = session.playAndRecord(new Float32Array(first.context.sampleRate * 2), 0.5);
      await new Promise((done) => setTimeout(done, 700));
      const show = (state) => {
        Object.defineProperty(document, 'visibilityState', { value: state, configurable: true });
        document.dispatchEvent(new Event('visibilitychange'));
      };
      show('hidden');
      const lost = await running;
      const closed = first.context.state;
      show('visible');
      const again = await session.playAndRecord(new Float32Array(1000), 0.5);
      const second = await session.ready();
      return { lost: lost.voided?.code, closed, heard, again: again.voided?.code, anew: second !== first, track: first.track.readyState };
    });
    assert.deepEqual(found, { lost: 'page_hidden', closed: 'closed', heard: ['page_hidden'], again: undefined, anew: true, track: 'ended' });
  }));

test('sound: context held back, track ended, track muted: each voids the take with its code', () =>
  inWorkshop({}, async (page) => {
    const found = await page.evaluate(async () => {
      const session = await audio.openSession({});
      const codes = [];
      const disturbances = [
        (graph) => graph.context.suspend(),
        (graph) => graph.track.dispatchEvent(new Event('ended')),
        (graph) => graph.track.dispatchEvent(new Event('mute')),
      ];
      for (const disturb of disturbances) {
        const graph = await session.ready();
        const running = session.playAndRecord(new Float32Array(graph.context.sampleRate * 2), 0.5);
        await new Promise((done) => setTimeout(done, 400));
        disturb(graph);
        codes.push((await running).voided?.code);
      }
      session.close();
      return codes;
    });
    assert.deepEqual(found, ['suspended', 'device_lost', 'muted']);
  }));

test('sound: a second tab is told so, and may go on when the first has closed', () =>
  inWorkshop({}, async (page, context, address) => {
    await page.evaluate(async () => void (window.held = await audio.openSession({})));
    const other = await context.newPage();
    const problems = watch(other, address);
    await other.goto(address);
    await other.click('button');
    assert.equal(await openingProblem(other), 'second_tab');
    await page.evaluate(() => window.held.close());
    assert.equal(await openingProblem(other), 'opened');
    assert.deepEqual(problems, []);
  }));

test('sound: permission denied has its code', () =>
  inWorkshop({ allow: false }, async (page) => {
    assert.equal(await openingProblem(page), 'permission_denied');
  }));

test('sound: a missing device, and a chosen one that is gone, have their codes', () =>
  inWorkshop({ device: false }, async (page) => {
    assert.equal(await openingProblem(page), 'no_device');
    assert.equal(await openingProblem(page, { inputDeviceId: 'feed'.repeat(16) }), 'device_lost');
  }));

/** Makes the input look otherwise than it is: Chromium's fake one is always stereo, raw and at a full rate. */
const pretend = (page, { settings = {}, channels }) =>
  page.evaluate(
    ({ settings, channels }) => {
      const open = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
      navigator.mediaDevices.getUserMedia = async (constraints) => {
        let stream = await open(constraints);
        if (channels) {
          const context = new AudioContext();
          const destination = new MediaStreamAudioDestinationNode(context, { channelCount: channels });
          context.createMediaStreamSource(stream).connect(destination);
          stream = destination.stream;
        }
        const track = stream.getAudioTracks()[0];
        const told = track.getSettings.bind(track);
        track.getSettings = () => ({ ...told(), ...settings });
        window.openedTrack = track;
        return stream;
      };
    },
    { settings, channels },
  );

test('sound: an input of one channel is refused only where two are needed', () =>
  inWorkshop({}, async (page) => {
    assert.equal(await openingProblem(page, { needsChannels: 2 }), 'opened');
    // The engine doubles a single channel, so what it tells is the only sign.
    await pretend(page, { channels: 1 });
    assert.equal(await openingProblem(page, { needsChannels: 2 }), 'mono_only');
    const channels = await page.evaluate(async () => {
      const session = await audio.openSession({});
      const take = await session.playAndRecord(new Float32Array(100), 0.5);
      session.close();
      return take.channels.length;
    });
    assert.equal(channels, 1);
  }));

test('sound: a headset rate and processing that stays on are refused, and nothing stays open', () =>
  inWorkshop({}, async (page) => {
    await pretend(page, { settings: { sampleRate: 16000 } });
    assert.equal(await openingProblem(page), 'low_rate');
    await pretend(page, { settings: { sampleRate: 48000, echoCancellation: true } });
    assert.equal(await openingProblem(page), 'processing_on');
    const held = await page.evaluate(async () => (await navigator.locks.query()).held.length);
    assert.equal(held, 0);
    assert.equal(await page.evaluate(() => window.openedTrack.readyState), 'ended');
  }));

test('sound: the output that is asked for is used, one that is gone is told', () =>
  inWorkshop({}, async (page) => {
    const outputs = await page.evaluate(async () => {
      const session = await audio.openSession({});
      session.close();
      return (await navigator.mediaDevices.enumerateDevices()).filter((d) => d.kind === 'audiooutput').map((d) => d.deviceId);
    });
    assert.ok(outputs.length > 0);
    const chosen = await page.evaluate(async (id) => {
      const session = await audio.openSession({ outputDeviceId: id });
      const { outputChosen } = session.facts;
      session.close();
      return outputChosen;
    }, outputs.at(-1));
    assert.equal(chosen, true);
    assert.equal(await openingProblem(page, { outputDeviceId: 'feed'.repeat(16) }), 'output_lost');
  }));
