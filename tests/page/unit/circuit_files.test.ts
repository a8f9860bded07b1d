// When a reading can go out to programs of circuit design.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Reading } from '../../../www/app/core/types.gen';
import { spiceOf, touchstoneOf } from '../../../www/app/store/circuit_files';

const figure = (value: number) => ({ value, standard_uncertainty: value / 100, half_width_95: value / 50, reason: null, budget: [] });
const columns = (...names: string[]) => Object.fromEntries(names.map((n) => [n, Float64Array.from([10, 20, 30])]));
const WHOLE = ['frequency_hz', 'magnitude_ohm', 'phase_deg', 'magnitude_standard_uncertainty_ohm'];
const BODY = { f_s_hz: figure(40), q_ms: figure(4), q_es: figure(0.4), r_e_ohm: figure(6) };

const kept = (more: Partial<Reading>) => ({
  partName: 'Left',
  note: 'in the\nworkshop',
  createdAt: Date.UTC(2026, 0, 31, 12),
  reading: { schema: 1, check: 'impedance', outcome: 'reading', values: {}, alongside: {}, chosen: {}, curves: {}, warnings: [], refusal: null, computed_with: { version: '0.1.0', method: 'ratio' }, ...more } as Reading,
});

test('a curve goes out only with its phase', () => {
  const request = touchstoneOf(kept({ curves: { impedance: columns(...WHOLE) } }));
  assert.equal(request?.length, 6);
  assert.ok(request?.[0].includes('in the\nworkshop'), 'the note goes along');
  assert.equal(touchstoneOf(kept({ curves: { impedance: columns('frequency_hz', 'magnitude_ohm') } })), undefined);
  assert.equal(touchstoneOf(kept({})), undefined);
});

test('a circuit goes out only where moving part and coil are known', () => {
  const curves = { impedance: columns(...WHOLE) };
  assert.equal(spiceOf(kept({ curves, values: BODY })), undefined);
  assert.equal(spiceOf(kept({ curves, values: { ...BODY, k_ohm_s_n: figure(0.02) } })), undefined);
  assert.equal(spiceOf(kept({ values: { ...BODY, l_e_h: figure(1e-3) } })), undefined, 'no band');
  const request = spiceOf(kept({ curves, values: { ...BODY, l_e_h: figure(1e-3), q_ts: figure(0.36) } }));
  assert.deepEqual(request?.[2], ['f_s_hz', 'q_ms', 'q_es', 'r_e_ohm', 'l_e_h']);
  assert.deepEqual(request?.slice(5), [10, 30]);
});

test('a refused reading gives neither, a doubtful one says so in the file', () => {
  const curves = { impedance: columns(...WHOLE) };
  const values = { ...BODY, l_e_h: figure(1e-3) };
  for (const of of [touchstoneOf, spiceOf]) assert.equal(of(kept({ outcome: 'refused', curves, values })), undefined);
  assert.ok(touchstoneOf(kept({ outcome: 'doubtful', curves }))?.[0].some((line) => line.startsWith('DOUBTFUL')));
  assert.ok(spiceOf(kept({ outcome: 'doubtful', curves, values }))?.[1].some((line) => line.startsWith('DOUBTFUL')));
});
