// Numbers of the person's bench: how they are asked, and where they are kept.
import type { MyBench } from '../job/keeping';
import type { NumberSpec } from '../ui/number_entry';
import { benchWords as b } from '../words/bench';

export type FieldName = 'seriesResistorOhm' | 'closeResistorOhm' | 'tolerancePercent' | 'inputResistanceOhm' | 'rEOhm';

export interface BenchField extends NumberSpec {
  /** Kept with the bench; what belongs to one part only is not. */
  keep: boolean;
  from: (bench: MyBench) => number | undefined;
  /** From SI to the form in which the bench keeps it. */
  shown: (value: number | undefined) => number | undefined;
}

const same = (value: number | undefined) => value;

export const FIELDS: Record<FieldName, BenchField> = {
  seriesResistorOhm: { label: b.resistor, unit: 'Ω', low: 1, high: 10_000, help: b.resistorHelp, resistor: true, keep: true, from: (m) => m.seriesResistorOhm, shown: same },
  closeResistorOhm: { label: b.closeResistor, unit: 'Ω', low: 1, high: 100, help: b.closeResistorHelp, resistor: true, keep: true, from: (m) => m.closeResistorOhm, shown: same },
  tolerancePercent: { label: b.tolerance, unit: '%', low: 0.001, high: 20, help: b.toleranceHelp, keep: true, from: (m) => m.tolerancePercent ?? 1, shown: same },
  inputResistanceOhm: { label: b.inputResistance, unit: 'kΩ', scale: 1000, low: 100, high: 1e8, optional: true, help: b.inputResistanceHelp, keep: true, from: (m) => m.inputResistanceOhm, shown: same },
  rEOhm: { label: b.rE, unit: 'Ω', low: 0.1, high: 1000, optional: true, help: b.rEPlain, keep: false, from: () => undefined, shown: same },
};
