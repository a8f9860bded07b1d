// The store against an IndexedDB made of plain JavaScript.
import 'fake-indexeddb/auto';
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { openDB } from 'idb';
import type { Reading } from '../../../www/app/core/types.gen';
import { storeProblemOf } from '../../../www/app/store/problems';
import { decode, encode } from '../../../www/app/store/samples';
import { Store, StoreProblem, type NewReading, type NewTake } from '../../../www/app/store/store';

let count = 0;
const fresh = (now?: () => number) => new Store(`test-${count++}`, now);
const about: NewTake = { check: 'knock', role: 'free', partName: 'Left', source: 'live', resistor_ohm: null, load_ohm: 10, added_mass_kg: null };
const take = (channels: number[][]) => ({ rateHz: 48000, channels: channels.map((c) => Float32Array.from(c)) });
const codeOf = (work: Promise<unknown>) => work.then(() => 'none', (e: unknown) => (e instanceof StoreProblem ? e.code : String(e)));

const reading: Reading = {
  schema: 1,
  check: 'knock',
  outcome: 'reading',
  values: { f_s_hz: { value: 31.4, standard_uncertainty: 0.02, half_width_95: 0.04, reason: null, budget: [] } },
  alongside: {},
  chosen: {},
  curves: { decay: { time_s: Float64Array.from([0, 1]) } },
  warnings: [],
  refusal: null,
  computed_with: { version: '0', method: 'm' },
};
const newReading: NewReading = { check: 'knock', partName: 'Left', note: '', source: 'live', takes: [], setup: { sensor: 'coil' }, reading };

test('samples of a 16-bit path are kept in two bytes each, to the last bit', () => {
  const all = Float32Array.from({ length: 65536 }, (_, i) => (i - 32768) / 32768);
  const stored = encode(all);
  assert.equal(stored.coding, 'int16');
  assert.equal(stored.data.byteLength, 2 * 65536);
  assert.deepEqual(decode(stored), all);
});

test('the grid with a step of its own for each sign is known too', () => {
  const all = Float32Array.from({ length: 65536 }, (_, i) => (i < 32768 ? (i - 32768) / 32768 : (i - 32768) / 32767));
  const stored = encode(all);
  assert.equal(stored.coding, 'int16_split');
  // Allowed: what two roundings of a float near full scale cost.
  decode(stored).forEach((s, i) => assert.ok(Math.abs(s - all[i]!) <= 2 ** -23, String(i)));
});

test('other samples stay as they are, and only those of the channel', () => {
  const large = Float32Array.from([9, 0.1, 1 / 3, -0.7, 9]);
  const stored = encode(large.subarray(1, 4));
  assert.equal(stored.coding, 'float32');
  assert.equal(stored.data.byteLength, 12);
  assert.deepEqual(decode(stored), large.slice(1, 4));
  assert.equal(encode(Float32Array.from([1.5])).coding, 'float32'); // beyond full scale is no 16-bit sample
  assert.equal(encode(Float32Array.from([NaN])).coding, 'float32');
});

test('a take comes back as it went in, with what it costs', async () => {
  const store = fresh(() => 1000);
  const samples = take([[0.5, -0.25, 0], [0.1, 0.2, 0.3]]);
  const kept = await store.keepTake(samples, about);
  assert.equal(kept.bytes, 3 * 2 + 3 * 4);
  assert.equal(kept.channelCount, 2);
  assert.equal(kept.createdAt, 1000);
  assert.deepEqual(await store.samples(kept.id), samples);
  assert.deepEqual(await store.get('takes', kept.id), kept);
});

test('everything is still there when the page is opened again', async () => {
  const name = `test-${count++}`;
  const first = new Store(name);
  const kept = await first.keepTake(take([[0.5]]), about);
  await first.close();
  const second = new Store(name);
  assert.deepEqual((await second.list('takes')).map((t) => t.id), [kept.id]);
});

test('lists are newest first and leave out what is deleted; undo brings it back', async () => {
  let now = 0;
  const store = fresh(() => ++now);
  const a = await store.keepReading(newReading);
  const b = await store.keepReading({ ...newReading, partName: 'Right' });
  assert.deepEqual((await store.list('readings')).map((r) => r.id), [b.id, a.id]);
  await store.delete('readings', b.id);
  assert.deepEqual((await store.list('readings')).map((r) => r.id), [a.id]);
  await store.undelete('readings', b.id);
  assert.deepEqual((await store.list('readings')).map((r) => r.partName), ['Right', 'Left']);
  assert.deepEqual((await store.get('readings', a.id)).reading.curves.decay!.time_s, Float64Array.from([0, 1]));
});

test('purging removes what was deleted long ago, samples too, and nothing else', async () => {
  let now = 0;
  const store = fresh(() => now);
  const kept = await store.keepTake(take([[0.5]]), about);
  const old = await store.keepTake(take([[0.5]]), about);
  const late = await store.keepTake(take([[0.5]]), about);
  await store.delete('takes', old.id);
  now = 900;
  await store.delete('takes', late.id);
  now = 1000;
  assert.equal(await store.purge(500), 1);
  assert.equal(await codeOf(store.samples(old.id)), 'not_there');
  await store.undelete('takes', late.id);
  assert.equal((await store.list('takes')).length, 2);
  assert.deepEqual((await store.samples(kept.id)).channels[0], Float32Array.from([0.5]));
});

test('a run under way and settings are kept and replaced', async () => {
  const store = fresh(() => 5);
  const run = { id: 'r', createdAt: 1, changedAt: 1, check: 'knock', partName: '', source: 'practice' as const, bench: {}, history: [] };
  await store.keepRun(run);
  await store.keepRun({ ...run, history: [{ kind: 'finished' }] });
  assert.deepEqual((await store.list('runs')).map((r) => [r.history.length, r.changedAt]), [[1, 5]]);
  assert.equal(await store.readSetting('bench'), undefined);
  await store.keepSetting('bench', { resistors: [10] });
  assert.deepEqual(await store.readSetting('bench'), { resistors: [10] });
});

test('names and notes change in place', async () => {
  const store = fresh();
  const kept = await store.keepReading(newReading);
  await store.rename('readings', kept.id, { partName: 'Woofer 2', note: 'new surround' });
  const now = await store.get('readings', kept.id);
  assert.deepEqual([now.partName, now.note, now.check], ['Woofer 2', 'new surround', 'knock']);
});

test('sizes count what is listed, bytes count what lies there', async () => {
  const store = fresh();
  const a = await store.keepTake(take([[0.1, 0.1]]), about);
  await store.keepTake(take([[0.5, 0.5]]), about);
  await store.delete('takes', a.id);
  const sizes = await store.sizes();
  assert.deepEqual([sizes.takes, sizes.readings, sizes.sampleBytes], [1, 0, 8 + 4]);
});

test('a browser that does not know persistence answers unknown, and that is kept', async () => {
  const store = fresh();
  assert.equal(await store.askToPersist(), 'unknown');
  assert.equal(await store.persistence(), 'unknown');
});

test('a refusal to persist is asked for again after a week, not at once', async () => {
  const refusals = { storage: { persist: async () => (asked++, false) } };
  let asked = 0;
  let now = 0;
  const store = fresh(() => now);
  const own = Object.getOwnPropertyDescriptor(globalThis, 'navigator');
  Object.defineProperty(globalThis, 'navigator', { value: refusals, configurable: true });
  try {
    const day = 24 * 3600 * 1000;
    for (now of [0, day, 6 * day, 8 * day]) assert.equal(await store.askToPersist(), 'refused');
    assert.equal(asked, 2);
  } finally {
    if (own) Object.defineProperty(globalThis, 'navigator', own);
    else delete (globalThis as { navigator?: unknown }).navigator;
  }
});

test('failures have their code', async () => {
  const store = fresh();
  assert.equal(await codeOf(store.get('readings', 'no')), 'not_there');
  assert.equal(await codeOf(store.delete('takes', 'no')), 'not_there');
  assert.equal(storeProblemOf(new DOMException('', 'QuotaExceededError')).code, 'full');
  assert.equal(storeProblemOf(Object.assign(new Error(), { name: 'AbortError', inner: new DOMException('', 'QuotaExceededError') })).code, 'full');
  assert.equal(storeProblemOf(new DOMException('', 'SecurityError')).code, 'unavailable');
  assert.equal(storeProblemOf(new Error('?')).code, 'failed');
  const name = `test-${count++}`;
  (await openDB(name, 99)).close();
  assert.equal(await codeOf(new Store(name).list('takes')), 'newer_version');
});

test('a take that cannot be written whole leaves nothing behind', async () => {
  const store = fresh();
  const bad = { ...about, partName: (() => 'a function cannot be stored') as unknown as string };
  assert.equal(await codeOf(store.keepTake(take([[0.5]]), bad)), 'failed');
  assert.deepEqual(await store.list('takes'), []);
  assert.equal((await store.sizes()).sampleBytes, 0);
  await store.keepTake(take([[0.5]]), about); // and the store goes on
});
