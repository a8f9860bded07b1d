// What the core needs to write a reading for programs of circuit design; none where the reading does not hold it.
import type { Core, Reading } from '../core/types.gen';
import type { ReadingOrigin } from './export';

export type TouchstoneRequest = Parameters<Core['files_touchstone']>;
export type SpiceRequest = Parameters<Core['files_spice']>;
type Kept = ReadingOrigin & { reading: Reading };

/** With 1 Ω the numbers of the file are ohms, whether or not a reader knows that they are divided by the reference. */
const REFERENCE_OHM = 1;
const CIRCUIT = ['f_s_hz', 'q_ms', 'q_es', 'r_e_ohm', 'l_e_h', 'l_2_h', 'r_2_ohm', 'k_ohm_s_n', 'n', 'creep'];

/** A curve by its modulus alone (as a meter gives it) is none: the format asks for the phase. */
export function touchstoneOf(kept: Kept): TouchstoneRequest | undefined {
  const curve = kept.reading.curves['impedance'];
  const [hz, ohm, deg, u] = ['frequency_hz', 'magnitude_ohm', 'phase_deg', 'magnitude_standard_uncertainty_ohm'].map((name) => curve?.[name]);
  if (kept.reading.outcome === 'refused' || !hz?.length || !ohm || !deg || !u) return undefined;
  return [[kept.partName, 'impedance as measured, free air, small signals', ...remarksOf(kept)], hz, ohm, deg, u, REFERENCE_OHM];
}

/** A circuit needs its moving part and its coil. */
export function spiceOf(kept: Kept): SpiceRequest | undefined {
  const { values, curves, outcome } = kept.reading;
  const names = CIRCUIT.filter((name) => values[name]);
  const whole = CIRCUIT.slice(0, 4).every((name) => values[name]) && (values['l_e_h'] || (values['k_ohm_s_n'] && values['n']));
  const hz = (curves['fit'] ?? curves['impedance'])?.['frequency_hz'];
  if (outcome === 'refused' || !whole || !hz?.length) return undefined;
  const figures = names.map((name) => values[name]!);
  const widths = figures.map((f) => f.half_width_95 ?? NaN);
  return [kept.partName, remarksOf(kept), names, Float64Array.from(figures, (f) => f.value), Float64Array.from(widths), hz[0]!, hz[hz.length - 1]!];
}

function remarksOf({ reading, createdAt, note }: Kept): string[] {
  const { version, method } = reading.computed_with;
  const lines = [`taken ${new Date(createdAt).toISOString().slice(0, 16)}Z; computed with Conewright ${version}: ${method}`];
  if (reading.outcome === 'doubtful') lines.push('DOUBTFUL: the figures may be off by more than their uncertainty says');
  lines.push(...reading.warnings.map((w) => `warning: ${w.message}`));
  if (note) lines.push(note);
  return lines;
}
