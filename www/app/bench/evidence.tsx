// The plots of a reading, by check. A check that is added brings its own folder and one line here.
import type { ComponentChildren } from 'preact';
import type { Reading } from '../core/types.gen';
import { ImpedanceEvidence } from './impedance/evidence';
import { KnockEvidence } from './knock/evidence';
import { MeterEvidence } from './meter/evidence';
import { LooseJointEvidence } from './loose_joint/evidence';
import { PairEvidence } from './pair/evidence';
import { PolarityEvidence } from './polarity/evidence';
import { looseJointWords, polarityWords } from '../words/polarity';

/** Evidence as plots; none where a reading carries no curves. */
export function evidenceOf(reading: Reading): ComponentChildren | null {
  if (Object.keys(reading.curves).length === 0) return null;
  if (reading.check.startsWith('impedance')) return <ImpedanceEvidence reading={reading} />;
  if (reading.check === 'knock') return <KnockEvidence reading={reading} />;
  if (reading.check === 'pair') return <PairEvidence reading={reading} />;
  if (reading.check === 'meter') return <MeterEvidence reading={reading} />;
  if (reading.check === 'polarity') return <PolarityEvidence reading={reading} />;
  if (reading.check === 'loose_joint') return <LooseJointEvidence reading={reading} />;
  return null;
}

/** What the reading found, in a sentence, where it is no figure with a ±. */
export function findingOf(reading: Reading): string | undefined {
  if (reading.check === 'loose_joint') return reading.chosen['joint'] === 'loose' ? looseJointWords.loose : looseJointWords.holds;
  return reading.check === 'polarity' ? polarityWords.finding : undefined;
}

/** Figures that the evidence already tells, in a sentence or a table. */
export const toldByEvidence = (check: string, name: string) => (check === 'polarity' && name.endsWith('_margin')) || (check === 'pair' && /^(first|second)_/.test(name));

/** Figures in the order in which this check shows them: large ones first. */
export const LEADS: Record<string, string[]> = { impedance: ['f_s_hz'], impedance_one_channel: ['f_s_hz'], impedance_by_microphone: ['f_s_hz'], knock: ['f_s_hz', 'q_ms'], meter: ['f_s_hz'], pair: ['difference_f_s_percent', 'difference_q_ts_percent'], loose_joint: ['dropouts'] };
export const ROWS: Record<string, string[]> = {
  impedance: ['r_e_ohm', 'q_ms', 'q_es', 'q_ts', 'z_max_ohm'],
  impedance_one_channel: ['r_e_ohm', 'q_ms', 'q_es', 'q_ts', 'z_max_ohm'],
  impedance_by_microphone: ['r_e_ohm', 'q_ms', 'q_es', 'q_ts', 'z_max_ohm', 'output_resistance_ohm'],
  meter: ['r_e_ohm', 'q_ms', 'q_es', 'q_ts', 'z_max_ohm'],
  pair: ['difference_q_ms_percent', 'difference_q_es_percent'],
  loose_joint: ['partial_openings', 'crackles'],
  knock: ['q_es', 'q_ts', 'r_e_ohm', 'm_ms_kg', 'bl_t_m', 'v_as_m3'],
};
