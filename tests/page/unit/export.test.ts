// Readings as files.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Reading } from '../../../www/app/core/types.gen';
import { csv, fileName, readingCsv, readingJson } from '../../../www/app/store/export';

const reading: Reading = {
  schema: 1,
  check: 'impedance',
  outcome: 'doubtful',
  values: {
    f_s_hz: { value: 31.42, standard_uncertainty: 0.02, half_width_95: 0.04, reason: null, budget: [] },
    z_max_ohm: { value: 40.5, standard_uncertainty: null, half_width_95: null, reason: 'read off, "as is"', budget: [] },
  },
  alongside: { three_frequency_f_s_hz: { value: 31.5, standard_uncertainty: null, half_width_95: null, reason: 'plain reading', budget: [] } },
  chosen: { coil_model: 'semi_inductance' },
  curves: { impedance: { magnitude_ohm: Float64Array.from([6.1, 6.2]), frequency_hz: Float64Array.from([20, 21.5]) } },
  warnings: [{ code: 'hum', message: 'Hum, as it were.', remedy: 'Move\nthe cable.', numbers: { level_db: -40 } }],
  refusal: null,
  computed_with: { version: '0.1.0', method: 'two-channel ratio' },
};
const origin = { partName: 'Left, upper', note: '', createdAt: Date.UTC(2026, 0, 31, 12) };

/** A reader after RFC 4180, written against its grammar. */
function parse(text: string): string[][] {
  const rows: string[][] = [];
  let row: string[] = [];
  const part = /(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n)/y;
  while (part.lastIndex < text.length) {
    const found = part.exec(text);
    assert.ok(found, 'not a field');
    row.push(found[1] !== undefined ? found[1].replaceAll('""', '"') : found[2]!);
    if (found[3] === '\r\n') rows.push(row.splice(0));
  }
  assert.equal(row.length, 0);
  return rows;
}

test('a reading as CSV: equal fields in every line, figures first, curves last, units in the names', () => {
  const rows = parse(readingCsv(reading, origin));
  assert.equal(new Set(rows.map((r) => r.length)).size, 1);
  assert.deepEqual(rows[0], ['table', 'name', 'value', 'standard_uncertainty', 'half_width_95', 'reason']);
  assert.deepEqual(rows[1], ['figures', 'f_s_hz', '31.42', '0.02', '0.04', '']);
  assert.deepEqual(rows[2], ['figures', 'z_max_ohm', '40.5', '', '', 'read off, "as is"']);
  assert.deepEqual(rows.at(-3)!.slice(0, 3), ['table', 'frequency_hz', 'magnitude_ohm']);
  assert.deepEqual(rows.at(-2)!.slice(0, 3), ['impedance', '20', '6.1']);
  assert.deepEqual(rows.at(-1)!.slice(0, 3), ['impedance', '21.5', '6.2']);
  const about = Object.fromEntries(rows.filter((r) => r[0] === 'about').map((r) => [r[1], r[2]]));
  assert.equal(about.part, 'Left, upper');
  assert.equal(about.read_at, '2026-01-31T12:00:00.000Z');
  assert.equal(about.coil_model, 'semi_inductance');
  assert.deepEqual(rows.find((r) => r[0] === 'warning')!.slice(0, 4), ['warning', 'hum', 'Hum, as it were.', 'Move\nthe cable.']);
});

test('what a curve runs over stands in front, whatever its name', () => {
  const ring = { envelope: Float64Array.from([1]), time_s: Float64Array.from([0.5]) };
  const rows = parse(readingCsv({ ...reading, curves: { ring } }, origin));
  assert.deepEqual(rows.at(-2)!.slice(0, 3), ['table', 'time_s', 'envelope']);
  assert.deepEqual(rows.at(-1)!.slice(0, 3), ['ring', '0.5', '1']);
});

test('a refused reading without figures or curves still gives its reason', () => {
  const refused = { ...reading, outcome: 'refused' as const, values: {}, alongside: {}, curves: {}, refusal: reading.warnings[0]!, warnings: [] };
  const rows = parse(readingCsv(refused, origin));
  assert.equal(rows.find((r) => r[0] === 'refusal')?.[1], 'hum');
});

test('numbers are written so that they read back exactly', () => {
  const value = 0.1 + 0.2;
  assert.equal(Number(parse(csv([[value]]))[0]![0]), value);
  assert.equal(csv([['a', null, undefined]]), 'a,,\r\n');
});

test('a reading as JSON holds plain lists', () => {
  const back = JSON.parse(readingJson(reading));
  assert.deepEqual(back.curves.impedance.frequency_hz, [20, 21.5]);
  assert.equal(back.values.z_max_ohm.standard_uncertainty, null);
  assert.equal(back.schema, 1);
  assert.deepEqual(Object.keys(back), Object.keys(reading));
});

test('file names hold no sign that a system forbids', () => {
  assert.equal(fileName(['Left: 8" / upper?', 'impedance'], origin.createdAt, 'csv'), 'Left-8-upper-impedance-2026-01-31.csv');
  assert.equal(fileName(['Tieftöner', ''], origin.createdAt, 'wav'), 'Tieftöner-2026-01-31.wav');
});
