// Names of figures, columns and sources of uncertainty, with the unit shown. `scale` is the SI size of one shown unit.

import { pairWords } from './pair';

export interface FigureWords {
  symbol?: string;
  label: string;
  unit: string;
  scale: number;
}

const of = (symbol: string | undefined, label: string, unit = '', scale = 1): FigureWords => ({ symbol, label, unit, scale });

export const FIGURES: Record<string, FigureWords> = {
  f_s_hz: of('f_s', 'resonance', 'Hz'),
  q_ms: of('q_ms', 'mechanical'),
  q_es: of('q_es', 'electrical'),
  q_ts: of('q_ts', 'total'),
  r_e_ohm: of('r_e', 'DC resistance', 'Ω'),
  z_max_ohm: of('z_max', 'at resonance', 'Ω'),
  output_resistance_ohm: of(undefined, 'resistance of the output', 'Ω'),
  r_es_ohm: of('r_es', 'motional', 'Ω'),
  l_e_h: of('l_e', 'inductance', 'mH', 1e-3),
  k_ohm_s_n: of('k', 'lossy coil', 'Ω sⁿ'),
  n: of('n', 'exponent of the coil'),
  l_2_h: of('l_2', 'second inductance', 'mH', 1e-3),
  r_2_ohm: of('r_2', 'beside it', 'Ω'),
  creep: of(undefined, 'creep of the suspension, a decade'),
  m_ms_kg: of('m_ms', 'moving mass', 'g', 1e-3),
  c_ms_m_per_n: of('c_ms', 'compliance', 'mm/N', 1e-3),
  r_ms_kg_per_s: of('r_ms', 'mechanical loss', 'kg/s'),
  bl_t_m: of('bl', 'motor', 'T·m'),
  s_d_m2: of('s_d', 'cone area', 'cm²', 1e-4),
  v_as_m3: of('v_as', 'volume as stiff as the suspension', 'l', 1e-3),
  eta_0: of('eta_0', 'efficiency', '%', 1e-2),
  level_1_w_db: of(undefined, 'level at 1 m for 1 W', 'dB'),
  level_2_83_v_db: of(undefined, 'level at 1 m for 2.83 V', 'dB'),
  dropouts: of(undefined, 'dropouts'),
  partial_openings: of(undefined, 'partial openings'),
  crackles: of(undefined, 'crackles'),
  least_change_percent: of(undefined, 'smallest change that counts', '%'),
  difference_f_s_percent: of('f_s', 'first over second', '%'),
  difference_q_ms_percent: of('q_ms', 'first over second', '%'),
  difference_q_es_percent: of('q_es', 'first over second', '%'),
  difference_q_ts_percent: of('q_ts', 'first over second', '%'),
  box_v_as_m3: of('v_as', 'by the box', 'l', 1e-3),
};

const UNITS: [RegExp, string, number][] = [
  [/_hz$/, 'Hz', 1],
  [/_ohm$/, 'Ω', 1],
  [/_h$/, 'mH', 1e-3],
  [/_db$/, 'dB', 1],
  [/_dbfs$/, 'dB', 1],
  [/_s$/, 's', 1],
  [/_v$/, 'V', 1],
  [/_percent$/, '%', 1],
  [/_deg$/, '°', 1],
];

/** The poles of an input as the core names them, `real_3.87_hz+pair_45.1_hz` or `none`, in plain words. */
export function inputWords(model: string): string {
  if (model === 'none') return 'no roll-off at the bottom was seen';
  const corners = [...model.matchAll(/(real|pair)_([\d.]+)_hz/g)].map(([, kind, hz]) => ({ steep: kind === 'pair', hz: Number(Number(hz).toPrecision(2)) }));
  if (corners.length === 0) return spell(model);
  const steep = corners.some((c) => c.steep) ? ', steeply' : '';
  return `rolls off below ${corners.map((c) => `${c.hz} Hz`).join(' and ')}${steep}`;
}

/** Words of a figure; an unknown name is spelled out rather than dropped. */
export function figureWords(name: string): FigureWords {
  const known = FIGURES[name];
  if (known) return known;
  const [, driver, own] = /^(first|second)_(.+)$/.exec(name) ?? [];
  if (driver && own && FIGURES[own]) return { ...FIGURES[own], label: `${FIGURES[own].label}, ${pairWords.of[driver as 'first' | 'second']}` };
  const bare = name.replace(/^(three_frequency|two_channel)_/, '');
  if (bare !== name && FIGURES[bare]) return FIGURES[bare];
  const unit = UNITS.find(([tail]) => tail.test(name));
  return of(undefined, spell(unit ? name.replace(unit[0], '') : name), unit?.[1] ?? '', unit?.[2] ?? 1);
}

/** A name of the core in plain letters: `real_3.86_hz+real_37_hz` becomes `real 3.86 Hz + real 37 Hz`. */
export const spell = (name: string) => name.replaceAll('_', ' ').replaceAll('+', ' + ').replace(/(\d) hz\b/g, '$1\u00a0Hz');

const COLUMNS: Record<string, string> = {
  frequency_hz: 'frequency, Hz',
  magnitude_ohm: '|Z|, Ω',
  phase_deg: 'phase, °',
  magnitude_standard_uncertainty_ohm: 'one standard uncertainty of |Z|, Ω',
  percent: 'measured less fit, %',
  number: 'reading',
  time_s: 'time, s',
  length_s: 'length, s',
  depth_percent: 'deepest change, %',
  change_percent: 'change, %',
  sign: 'sign',
  margin: 'margin',
  take: 'take',
};

export function columnWords(name: string): string {
  const known = COLUMNS[name];
  if (known) return known;
  const { label, unit } = figureWords(name);
  return unit ? `${label}, ${unit}` : label;
}

/** By the names that the core puts into its budgets; a test reads them from its source. */
export const SOURCES: Record<string, string> = {
  noise: 'noise, by the scatter',
  repeat: 'scatter from take to take',
  misfit: 'what the fit leaves over',
  coil_model: 'choice of the coil model',
  suspension_model: 'choice of the suspension model',
  suspension_creep: 'creep of the suspension',
  temperature: 'temperature of the coil',
  travel: 'travel of the cone',
  series_resistor: 'the known resistor',
  known_resistor: 'the resistor in the driver’s place',
  second_resistor: 'the second known resistor',
  gain_between_takes: 'gain from take to take',
  output_resistance: 'resistance of the output',
  delay: 'delay between the takes',
  gain_match: 'match of the two inputs',
  leads: 'leads and clips',
  input_loading: 'loading by the inputs',
  input_resistance: 'resistance of the input',
  input_pole: 'coupling of the input',
  amplitude: 'change with the size of the ring',
  friction: 'friction',
  load_tolerance: 'the resistor across the terminals',
  weight: 'the weight on the cone',
  box_volume: 'inner volume of the box',
  air_in_box: 'air that moves along in the box',
  driver_displacement: 'volume of the driver in the box',
  r_e: 'DC resistance of the coil',
  effective_diameter: 'effective diameter of the cone',
  air: 'temperature and pressure of the air',
  meter_display: 'last digit of the meter',
  meter_accuracy: 'accuracy of the meter',
  meter_ranges: 'gain of one range of the meter against another',
  ohms_reading: 'the ohms reading',
  frequency: 'frequency of the tones',
};

export const sourceWords = (source: string) => SOURCES[source] ?? spell(source);
