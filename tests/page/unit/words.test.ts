// Words for what the core names: every source of uncertainty and every number of a notice, as its source text has them.
import assert from 'node:assert/strict';
import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { test } from 'node:test';
import { FIGURES, SOURCES, inputWords, spell } from '../../../www/app/words/figures';
import { POINTS } from '../../../www/app/words/look';
import { NUMBERS, numberRow } from '../../../www/app/words/numbers';

// The bundle lies in target/page-unit.
const root = fileURLToPath(new URL('../../', import.meta.url));

function rustFiles(folder: string): string[] {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) return rustFiles(path);
    return /\.rs$/.test(name) && !/_tests\.rs$/.test(name) ? [path] : [];
  });
}

/** Text of a file without its comments and its tests, which stand at the end. */
const code = (path: string) => (readFileSync(path, 'utf8').split('#[cfg(test)]')[0] ?? '').replace(/\/\/.*$/gm, '');

const src = (name: string) => code(join(root, 'src', name));
const names = (text: string, pattern: RegExp) => [...text.matchAll(pattern)].map((m) => m[1] ?? '');

test('every source of uncertainty has words, and every word its source', () => {
  const files = ['driver/impedance_budget.rs', 'driver/knock_budget.rs', 'driver/meter_budget.rs', 'electrical/calibration.rs', 'electrical/one_channel.rs'];
  // A literal in these files is either the name of a figure or that of a source.
  const literals = files.flatMap((file) => names(src(file), /"([a-z][a-z0-9_]*)"/g));
  // Weight and box name theirs one by one, beside the numbers of notices.
  const stated = names(src('driver/mounted.rs'), /stated\(\s*"(\w+)"/g);
  const ofTheCoil = names(src('verdict/coil_meter.rs'), /(?:budget\.add|=> budget\.add)\("(\w+)"/g);
  assert.ok(ofTheCoil.length > 4, 'the coil’s sources were not found');
  const emitted = new Set([...literals.filter((name) => !(name in FIGURES)), ...stated, ...ofTheCoil]);
  for (const known of ['noise', 'misfit', 'load_tolerance', 'gain_match', 'input_pole']) assert.ok(emitted.has(known), `${known} was not found: the source is written another way now`);
  assert.deepEqual([...emitted].filter((name) => !(name in SOURCES)), [], 'without words');
  assert.deepEqual(Object.keys(SOURCES).filter((name) => !emitted.has(name)), [], 'words that nothing names');
});

/** What stands in the bracket that opens at `from`. */
function bracket(text: string, from: number): string {
  let depth = 0;
  for (let i = from; i < text.length; i++) {
    if (text[i] === '[') depth += 1;
    if (text[i] === ']' && --depth === 0) return text.slice(from, i);
  }
  throw new Error('a bracket is never closed');
}

function numbersNamed(text: string): string[] {
  const lists = [...text.matchAll(/(?:Notice::new\([^;]*?,\s*&|let (?:mut )?numbers(?::[^=]*)? =\s*(?:vec!)?)\[/g)].map((m) => bracket(text, m.index + m[0].length - 1));
  const listed = lists.flatMap((list) => names(list, /\(\s*"(\w+)",/g));
  return [...listed, ...names(text, /numbers\.(?:push\(\(|insert\()\s*"(\w+)"/g)];
}

test('every number of a notice has words', () => {
  const folders = ['signal', 'electrical', 'driver', 'acoustic', 'procedure'].map((folder) => join(root, 'src', folder));
  const emitted = new Set(folders.flatMap(rustFiles).flatMap((path) => numbersNamed(code(path))));
  for (const known of ['f_s_relative_uncertainty', 'knocks_set_aside', 'longest_zero_run_samples', 'excess_db', 'q_at_a_third']) assert.ok(emitted.has(known), `${known} was not found: the source is written another way now`);
  assert.ok(emitted.size > 60, `${emitted.size} names`);
  assert.deepEqual([...emitted].filter((name) => !(name in NUMBERS)), [], 'without words');
});

test('every point of a look has words, and every word its point', () => {
  const points = new Set(names(src('job/look_points.rs'), /"([a-z_]+)"/g));
  assert.ok(points.has('glue_line') && points.size > 20, `${points.size} points`);
  assert.deepEqual([...points].filter((name) => !(name in POINTS)), [], 'without words');
  assert.deepEqual(Object.keys(POINTS).filter((name) => !points.has(name)), [], 'words that nothing names');
});

test('what the core chose is spelled out as people write it', () => {
  assert.equal(spell('real_3.86_hz+real_37.01_hz'), 'real 3.86\u00a0Hz + real 37.01\u00a0Hz');
  assert.equal(spell('semi_inductance'), 'semi inductance');
});

test('numbers are shown as people say them', () => {
  assert.deepEqual(numberRow('f_s_relative_uncertainty', 0.0123), { label: 'Uncertainty of f_s', value: '1.23\u00a0%' });
  assert.deepEqual(numberRow('peak_dbfs', -0.5), { label: 'Highest level, from full scale', value: '\u22120.5\u00a0dB' });
  assert.deepEqual(numberRow('suggested_g', 12), { label: 'Suggested weight', value: '12\u00a0g' });
  assert.deepEqual(numberRow('unheard_of_hz', 12), { label: 'Unheard of', value: '12\u00a0Hz' });
  for (const name of Object.keys(NUMBERS)) assert.doesNotMatch(numberRow(name, 0.5).label.replace(/\b[fQRV]_[a-z]+\b/g, ''), /_/, name);
});

test('the poles of an input in plain words', () => {
  assert.equal(inputWords('real_3.87_hz+real_37.01_hz'), 'rolls off below 3.9 Hz and 37 Hz');
  assert.equal(inputWords('pair_45.1_hz'), 'rolls off below 45 Hz, steeply');
  assert.equal(inputWords('none'), 'no roll-off at the bottom was seen');
  assert.equal(inputWords('another_model'), 'another model');
});
