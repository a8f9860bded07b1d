// What goes into files and links, and what comes out: shapes, thinning, containers, arrival in the store.
import 'fake-indexeddb/auto';
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { openDB } from 'idb';
import { arrive, type Arrival } from '../../../www/app/move/arrival';
import { FileProblem, pack, unpack } from '../../../www/app/move/container';
import { anything, Misfit, object } from '../../../www/app/move/plain';
import { LinkProblem, packReading, thinned, unpackReading, type Shared } from '../../../www/app/move/shared_link';
import { encode } from '../../../www/app/store/samples';
import { Store, StoreProblem, type KeptReading } from '../../../www/app/store/store';
import type { Job } from '../../../www/app/core/types.gen';

let count = 0;
const reading = (id: string, takes: string[] = []): KeptReading => ({
  id,
  createdAt: 5,
  check: 'knock',
  partName: 'Left',
  note: 'mine',
  source: 'live',
  takes: takes.map((take) => ({ id: take, role: 'free', resistor_ohm: null, load_ohm: null, added_mass_kg: null, box_volume_m3: null, set_aside: [] })),
  setup: { sensor: 'coil', channel: 1 },
  reading: { schema: 1, check: 'knock', outcome: 'reading', values: { f_s_hz: { value: 31.4159265, standard_uncertainty: 0.02, half_width_95: 0.04, reason: null, budget: [{ source: 'noise', effect: 1, common: false }] } }, alongside: {}, chosen: { next: 'done' }, curves: { ring: { time_s: Float64Array.from({ length: 3000 }, (_, i) => i / 1000), measured: Float64Array.from({ length: 3000 }, (_, i) => Math.sin(i / 100)) } }, warnings: [], refusal: null, computed_with: { version: '0', method: 'm' } },
});
const job = (title: string): Job => ({ version: 2, id: 'job', title }) as unknown as Job;
const take = (id: string) => ({ about: { id, createdAt: 1, check: 'knock', role: 'free', partName: 'Left', source: 'live' as const, rateHz: 48000, channelCount: 1, frames: 2, bytes: 4, resistor_ohm: null, load_ohm: null, added_mass_kg: null }, channels: [encode(Float64Array.of(0, 0.5) as unknown as Float32Array)] });
const arrival = (changes: Partial<Arrival> = {}): Arrival => ({ job: job('new'), madeWith: undefined, readings: [], takes: [], photos: [], again: [], ...changes });
const codeOf = (work: Promise<unknown>) => work.then(() => 'none', (e: unknown) => (e instanceof StoreProblem || e instanceof FileProblem || e instanceof LinkProblem ? e.code : String(e)));

test('what arrives is written whole, and read by the lists of the page', async () => {
  const store = new Store(`move-${count++}`);
  await arrive(arrival({ readings: [reading('r', ['t'])], takes: [take('t')] }), store);
  assert.equal((await store.get('jobs', 'job')).job.title, 'new');
  assert.deepEqual(await store.usedTakes(['t', 'other']), ['t']);
  assert.deepEqual([...(await store.takesOfReadings())], ['t']);
  const { list, of } = await store.latestReadings(10);
  assert.deepEqual([list.map((r) => r.id), of], [['r'], 1]);
});

test('an arrival that fails at its last entry leaves everything as it was', async () => {
  const store = new Store(`move-${count++}`);
  await store.keepJob(job('old'));
  const { changedAt } = await store.get('jobs', 'job');
  await arrive(arrival({ job: job('second'), madeWith: changedAt, readings: [reading('r')] }), store);
  const before = await Promise.all([store.list('jobs'), store.list('readings'), store.list('takes')]);
  const { changedAt: now } = await store.get('jobs', 'job');
  // Its id is taken.
  assert.notEqual(await codeOf(arrive(arrival({ job: job('third'), madeWith: now, takes: [take('t')], readings: [reading('x'), reading('r')] }), store)), 'none');
  // It is to come back, and is not there.
  assert.equal(await codeOf(arrive(arrival({ job: job('third'), madeWith: now, readings: [reading('y')], again: [{ kind: 'takes', id: 'gone' }] }), store)), 'changed');
  // The job was changed since.
  assert.equal(await codeOf(arrive(arrival({ job: job('third'), madeWith: now - 1, readings: [reading('z')] }), store)), 'changed');
  assert.deepEqual(await Promise.all([store.list('jobs'), store.list('readings'), store.list('takes')]), before);
});

test('what lies there already comes back, and a second note is added once', async () => {
  const store = new Store(`move-${count++}`);
  await arrive(arrival({ readings: [reading('r')] }), store);
  await store.delete('readings', 'r');
  for (let n = 0; n < 2; n++) await arrive(arrival({ madeWith: (await store.get('jobs', 'job')).changedAt, again: [{ kind: 'readings', id: 'r', note: 'theirs' }] }), store);
  const found = await store.get('readings', 'r');
  assert.deepEqual([found.deletedAt, found.note], [undefined, 'mine\ntheirs']);
});

test('a store of the earlier version gets its indexes, and its readings lie in them', async () => {
  const name = `move-${count++}`;
  const old = await openDB(name, 2, {
    upgrade(db) {
      for (const kind of ['takes', 'samples', 'readings', 'runs', 'jobs', 'photos']) db.createObjectStore(kind, { keyPath: 'id' });
      db.createObjectStore('settings');
    },
  });
  await old.put('readings', reading('r', ['t']));
  old.close();
  const store = new Store(name);
  assert.deepEqual(await store.usedTakes(['t', 'u']), ['t']);
  assert.deepEqual(await store.usedTakes(['t'], 'r'), []);
  assert.equal((await store.latestReadings(1)).list[0]?.id, 'r');
});

test('a container comes back as it was packed, and no byte of it can be changed unseen', async () => {
  const entries: [string, Uint8Array][] = [
    ['job.json', new TextEncoder().encode('{}')],
    ['takes/t.wav', Uint8Array.from({ length: 90_000 }, (_, i) => (i * i) % 251)],
    ['photos/p.jpg', Uint8Array.of(0xff, 0xd8, 1)],
  ];
  const file = await pack(entries, Date.UTC(2026, 0, 31));
  const { entries: found, writtenAt } = await unpack(file);
  assert.deepEqual([...found].sort(), [...entries].sort());
  assert.equal(writtenAt, '2026-01-31T00:00:00.000Z');
  const bytes = new Uint8Array(await file.arrayBuffer());
  const says = new Set<string>();
  for (let n = 0; n < 40; n++) {
    const at = Math.floor((n / 40) * bytes.length);
    const changed = bytes.slice();
    changed[at]! ^= 0x55;
    const after = await unpack(new Blob([changed])).then(
      (whole) => {
        // Times and attributes in the headers say nothing of the contents.
        assert.deepEqual([...whole.entries].sort(), [...entries].sort(), `byte ${at}`);
        return 'same';
      },
      (error: unknown) => (error instanceof FileProblem ? error.code : assert.fail(`byte ${at}: ${String(error)}`)),
    );
    says.add(after);
  }
  assert.ok(says.has('damaged'), [...says].join());
});

test('foreign data are built anew, bounded, and never a prototype', () => {
  assert.throws(() => object(JSON.parse('{"a":{"__proto__":{"x":1}}}'), 'it'), Misfit);
  assert.throws(() => object(JSON.parse('{"constructor":1}'), 'it'), Misfit);
  assert.throws(() => anything(JSON.parse('['.repeat(40) + ']'.repeat(40)), 'it'), Misfit);
  assert.throws(() => anything('x'.repeat(10_001), 'it'), Misfit);
  assert.deepEqual(object({ a: [1, null, { b: 'c' }] }, 'it'), { a: [1, null, { b: 'c' }] });
});

test('a thinned curve keeps its ends, its peak and its worst point', () => {
  const n = 2000;
  const frequency_hz = Float64Array.from({ length: n }, (_, i) => 10 * 2000 ** (i / n));
  const magnitude_ohm = Float64Array.from(frequency_hz, (f) => 6 + 40 / (1 + (10 * (f / 48 - 48 / f)) ** 2));
  magnitude_ohm[1234] = 9;
  const thin = thinned({ frequency_hz, magnitude_ohm }, 80);
  assert.equal(thin['frequency_hz']!.length, 80);
  assert.deepEqual([thin['frequency_hz']![0], thin['frequency_hz']![79]], [frequency_hz[0], frequency_hz[n - 1]]);
  assert.ok(thin['magnitude_ohm']!.includes(9), 'the point that is off');
  assert.equal(Math.max(...thin['magnitude_ohm']!), Math.max(...magnitude_ohm));
  // Straight lines between what is left follow the whole: a hundredth of the drawing's height is less than a line's width.
  let worst = 0;
  let at = 0;
  for (let i = 0; i < n; i++) {
    while (thin['frequency_hz']![at + 1]! < frequency_hz[i]!) at++;
    const [a, b] = [frequency_hz.indexOf(thin['frequency_hz']![at]!), frequency_hz.indexOf(thin['frequency_hz']![at + 1]!)];
    const line = magnitude_ohm[a]! + ((magnitude_ohm[b]! - magnitude_ohm[a]!) * (i - a)) / (b - a);
    worst = Math.max(worst, Math.abs(line - magnitude_ohm[i]!));
  }
  assert.ok(worst < 0.01 * 46, String(worst));
});

test('a link holds the figures to the last digit and nothing that is not whole', async () => {
  const kept: Shared = reading('r');
  const packed = await packReading(kept);
  assert.ok(packed.length < 8000, String(packed.length));
  const found = await unpackReading(packed);
  assert.equal(found.reading.values['f_s_hz']!.value, 31.4159265);
  assert.deepEqual(found.reading.values['f_s_hz']!.budget, []);
  assert.deepEqual(found.setup, { sensor: 'coil' });
  assert.equal('note' in found, false);
  for (let n = 0; n < 80; n++) {
    const at = Math.floor((n / 80) * packed.length);
    const other = packed[at] === 'A' ? 'B' : 'A';
    assert.equal(await codeOf(unpackReading(packed.slice(0, at) + other + packed.slice(at + 1))), 'bad', `sign ${at}`);
    assert.equal(await codeOf(unpackReading(packed.slice(0, at))), 'bad', `cut at ${at}`);
  }
});
