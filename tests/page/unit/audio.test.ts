// The parts of the sound road that need no browser.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { inputConstraints, readBack, stagesIn } from '../../../www/app/audio/constraints';
import { findAgain, sortDevices } from '../../../www/app/audio/devices';
import { factsOf, refuseUnfit, type Observed } from '../../../www/app/audio/facts';
import { LevelMeter, SILENCE_DBFS, peakBetween } from '../../../www/app/audio/level';
import { askOthers } from '../../../www/app/audio/lock';
import { AUDIO_PROBLEM_CODES, AudioProblem, problemOfCapture, problemOfState } from '../../../www/app/audio/problems';
import { Recording } from '../../../www/app/audio/recording';
import { changeOf } from '../../../www/app/audio/watch';
import { audioProblemWords } from '../../../www/app/words/audio-problems';

const chunk = (firstFrame: number, length: number, channels = 2) => ({
  firstFrame,
  channels: Array.from({ length: channels }, (_, c) => Float32Array.from({ length }, (_, n) => (firstFrame + n) * (c + 1))),
});

test('all processing is asked off, echo cancellation first, and no rate is asked for', () => {
  const audio = inputConstraints('abc').audio as Record<string, unknown>;
  assert.equal(Object.keys(audio)[0], 'echoCancellation');
  for (const stage of ['echoCancellation', 'noiseSuppression', 'autoGainControl', 'voiceIsolation']) assert.equal(audio[stage], false);
  assert.deepEqual(audio.channelCount, { ideal: 2 });
  assert.deepEqual(audio.deviceId, { exact: 'abc' });
  assert.ok(!('sampleRate' in audio));
  assert.ok(!('deviceId' in (inputConstraints().audio as object)));
});

test('a stage that the browser does not tell is unknown, not off', () => {
  // The keys that one engine gives: no word on noise suppression or automatic gain.
  const told = readBack({ deviceId: 'x', echoCancellation: false, sampleRate: 48000, volume: 1 });
  assert.deepEqual(told, { echo_cancellation: 'off', noise_suppression: 'unknown', auto_gain_control: 'unknown', voice_isolation: 'unknown' });
  assert.deepEqual(stagesIn(readBack({ echoCancellation: 'all', autoGainControl: true }), 'on'), ['echo_cancellation', 'auto_gain_control']);
});

const seen = (changes: Partial<Observed> & { settings?: object } = {}): Observed => ({
  label: 'Interface',
  settings: { deviceId: 'x', echoCancellation: false, noiseSuppression: false, autoGainControl: false, sampleRate: 48000 },
  contextRateHz: 48000,
  channels: 2,
  outputChosen: true,
  baseLatencyS: 0.02,
  userAgent: 'test',
  touchOnly: false,
  ...changes,
});

const codeOf = (act: () => void): string => {
  try {
    act();
  } catch (error) {
    return (error as AudioProblem).code;
  }
  return 'none';
};

test('inputs that cannot measure are refused, each with its code', () => {
  assert.equal(codeOf(() => refuseUnfit(factsOf(seen()), 2)), 'none');
  assert.equal(codeOf(() => refuseUnfit(factsOf(seen({ channels: 1 })), 2)), 'mono_only');
  assert.equal(codeOf(() => refuseUnfit(factsOf(seen({ channels: 1 })), 1)), 'none');
  const single = { deviceId: 'x', echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 };
  assert.equal(codeOf(() => refuseUnfit(factsOf(seen({ settings: single })), 2)), 'mono_only');
  // The device's own rate counts where the browser tells it: the context may run at the output's.
  const headset = { deviceId: 'x', echoCancellation: false, noiseSuppression: false, autoGainControl: false, sampleRate: 16000 };
  assert.equal(codeOf(() => refuseUnfit(factsOf(seen({ settings: headset })), 1)), 'low_rate');
  assert.equal(codeOf(() => refuseUnfit(factsOf(seen({ contextRateHz: 24000 })), 1)), 'low_rate');
  assert.equal(codeOf(() => refuseUnfit(factsOf(seen({ settings: { echoCancellation: true } })), 1)), 'processing_on');
});

test('what is doubtful but usable is a caution', () => {
  assert.deepEqual(factsOf(seen()).cautions, []);
  assert.deepEqual(factsOf(seen({ settings: { echoCancellation: false, volume: 0.5 } })).cautions, ['processing_unknown', 'digital_gain']);
  assert.deepEqual(factsOf(seen({ label: 'Phone', touchOnly: true, outputChosen: false })).cautions, ['phone_microphone', 'output_follows_system']);
  assert.deepEqual(factsOf(seen({ label: 'Bluetooth Headset' })).cautions, ['bluetooth']);
  assert.deepEqual(factsOf(seen({ contextRateHz: 44100 })).cautions, ['unequal_rates']);
  const untold = { deviceId: 'x', echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  assert.deepEqual(factsOf(seen({ contextRateHz: 44100, settings: untold })).cautions, [], 'a rate that is not told is not guessed');
});

test('failed captures get their code', () => {
  const named = (name: string) => Object.assign(new Error(), { name });
  assert.equal(problemOfCapture(named('NotAllowedError'), false).code, 'permission_denied');
  assert.equal(problemOfCapture(named('NotFoundError'), false).code, 'no_device');
  assert.equal(problemOfCapture(named('OverconstrainedError'), true).code, 'device_lost');
  assert.equal(problemOfCapture(named('NotReadableError'), true).code, 'device_busy');
  assert.equal(problemOfCapture(named('SecurityError'), false).code, 'not_secure');
  assert.equal(problemOfCapture(new AudioProblem('mono_only'), false).code, 'mono_only');
  assert.equal(problemOfState('running'), undefined);
  assert.equal(problemOfState('interrupted'), 'interrupted');
  assert.equal(problemOfState('suspended'), 'suspended');
});

test('every code says what is and what to do', () => {
  for (const code of AUDIO_PROBLEM_CODES) {
    const words = audioProblemWords(code, { label: 'Line in' });
    assert.match(words.what, /\.$/, code);
    assert.match(words.remedy, /\.$/, code);
    assert.ok(!/!/.test(words.what + words.remedy), code);
  }
  assert.match(audioProblemWords('low_rate', { rateHz: 16000 }).what, /16\.0 kHz/);
});

test('a recording is cut to the frame out of the chunks', () => {
  const recording = new Recording(100, 300);
  assert.equal(recording.add(chunk(0, 64)), 'more');
  assert.equal(recording.add(chunk(64, 128)), 'more');
  assert.equal(recording.frames, 92);
  assert.equal(recording.add(chunk(192, 128)), 'complete');
  const [left, right] = recording.cut();
  assert.deepEqual(Array.from(left!), Array.from({ length: 200 }, (_, n) => 100 + n));
  assert.equal(right!.length, 200);
  assert.equal(right![199], 598);
});

test('a recording that begins late is spoilt, as is one with a hole or with other channels', () => {
  assert.equal(new Recording(100, 300).add(chunk(128, 128)), 'samples_lost');
  const holed = new Recording(0, 1000);
  holed.add(chunk(0, 128));
  assert.equal(holed.add(chunk(256, 128)), 'samples_lost');
  const other = new Recording(0, 1000);
  other.add(chunk(0, 128));
  assert.equal(other.add(chunk(128, 128, 1)), 'device_changed');
});

test('a recording ended early keeps what has come', () => {
  const recording = new Recording(10, 100_000);
  recording.add(chunk(0, 64));
  recording.endHere();
  assert.equal(recording.cut()[0]!.length, 54);
  const empty = new Recording(10, 100);
  empty.endHere();
  assert.deepEqual(empty.cut(), []);
});

test('levels come at most fifteen times a second and lose no peak', () => {
  const rate = 192_000;
  const meter = new LevelMeter(rate);
  let levels = 0;
  let highest = SILENCE_DBFS;
  for (let n = 0; n < 40; n++) {
    const samples = new Float32Array(4800);
    if (n === 17) samples[5] = -0.5;
    const level = meter.add({ firstFrame: n * 4800, channels: [samples] }, undefined);
    if (level) {
      levels++;
      highest = Math.max(highest, level.peakDbfs[0]!);
      assert.equal(level.outputPeakDbfs, undefined);
    }
  }
  assert.ok(levels >= 10 && levels <= 15, String(levels)); // 40 chunks are one second
  assert.ok(Math.abs(highest - 20 * Math.log10(0.5)) < 1e-6);
});

test('the root mean square of a full-scale sine is 3.01 dB below its peak', () => {
  const samples = Float32Array.from({ length: 48_000 }, (_, n) => Math.sin((2 * Math.PI * 1000 * n) / 48_000));
  const level = new LevelMeter(48_000).add({ firstFrame: 0, channels: [samples] }, 0.25);
  assert.ok(Math.abs(level!.rmsDbfs[0]! + 10 * Math.log10(2)) < 1e-3);
  assert.ok(Math.abs(level!.outputPeakDbfs! - 20 * Math.log10(0.25)) < 1e-9);
});

test('the peak played is taken from what lies in the window only', () => {
  const samples = Float32Array.from([0.1, -0.9, 0.2]);
  assert.equal(peakBetween(samples, -5, 1), Math.fround(0.1));
  assert.equal(peakBetween(samples, 0, 99), Math.fround(0.9));
  assert.equal(peakBetween(samples, 3, 9), undefined);
  assert.equal(peakBetween(samples, -9, -1), undefined);
});

test('entries that only point at another device are left out, unless there is nothing else', () => {
  const device = (kind: MediaDeviceKind, deviceId: string, label = deviceId) => ({ kind, deviceId, label });
  const found = sortDevices([device('audioinput', 'default'), device('audioinput', 'a'), device('audiooutput', 'default'), device('videoinput', 'v')]);
  assert.deepEqual(found.inputs, [{ id: 'a', label: 'a' }]);
  assert.deepEqual(found.outputs, [{ id: 'default', label: 'default' }]);
  assert.equal(sortDevices([device('audioinput', '', '')]).labelled, false);
});

test('a kept device is found by id, else by a label that stands once, else not at all', () => {
  const list = [
    { id: '1', label: 'Line' },
    { id: '2', label: 'Twin' },
    { id: '3', label: 'Twin' },
  ];
  assert.equal(findAgain(list, { id: '2', label: 'Old name' })?.id, '2');
  assert.equal(findAgain(list, { id: 'gone', label: 'Line' })?.id, '1');
  assert.equal(findAgain(list, { id: 'gone', label: 'Twin' }), undefined);
  assert.equal(findAgain(list, { id: 'gone', label: '' }), undefined);
});

test('only a real change of the devices spoils a take', () => {
  const list = (inputs: string[], outputs: string[] = []) => ({
    inputs: inputs.map((id) => ({ id, label: id })),
    outputs: outputs.map((id) => ({ id, label: id })),
    labelled: true,
  });
  assert.equal(changeOf(list(['a', 'b']), list(['b', 'a']), 'a'), undefined);
  assert.equal(changeOf(list(['a', 'b']), list(['b']), 'a'), 'device_lost');
  assert.equal(changeOf(list(['a', 'b']), list(['a']), 'a'), 'device_changed');
  assert.equal(changeOf(list(['a'], ['o']), list(['a'], ['o', 'p']), 'a'), 'device_changed');
});

test('without locks a second tab learns of the first', async () => {
  const free = await askOthers('test-tabs', 40);
  await assert.rejects(askOthers('test-tabs', 40), (error: AudioProblem) => error.code === 'second_tab');
  free();
  (await askOthers('test-tabs', 40))();
});
