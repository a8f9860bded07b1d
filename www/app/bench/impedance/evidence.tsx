// Evidence of an impedance reading: the curve on the rule, phase, residual, and the same as tables.
import type { Reading } from '../../core/types.gen';
import { columns, column } from '../curves';
import { ImpedancePlot, type ImpedanceCurve, type RefusedBand } from '../../ui/plot/impedance';
import { CurveTable } from '../../ui/tables';
import { significant, NBSP } from '../../ui/format';
import { readingWords } from '../../words/reading';
import { plotWords } from '../../words/plots';

export function ImpedanceEvidence({ reading }: { reading: Reading }) {
  const measured = curveOf(reading, 'impedance');
  if (!measured) return null;
  const fit = curveOf(reading, 'fit');
  const f_s = reading.values['f_s_hz']?.value;
  const z_max = reading.values['z_max_ohm']?.value;
  const residual = residualOf(reading);
  const summary = f_s && z_max ? readingWords.impedanceSummary(`${significant(f_s, 3)}${NBSP}Hz`, `${significant(z_max, 3)}${NBSP}Ω`) : readingWords.impedanceTable;
  return (
    <div>
      <ImpedancePlot
        measured={measured}
        {...(fit ? { fit } : {})}
        {...(residual ? { residual } : {})}
        refused={refusedBands(reading)}
        {...(f_s ? { f_s_hz: f_s } : {})}
        {...(z_max ? { z_max_ohm: z_max } : {})}
        summary={summary}
      />
      <CurveTable title={readingWords.impedanceTable} curve={columns(reading, 'impedance') ?? {}} />
    </div>
  );
}

export function curveOf(reading: Reading, name: string): ImpedanceCurve | undefined {
  const frequency_hz = column(reading, name, 'frequency_hz');
  const magnitude_ohm = column(reading, name, 'magnitude_ohm');
  const phase_deg = column(reading, name, 'phase_deg');
  if (!frequency_hz || !magnitude_ohm || !phase_deg || frequency_hz.length === 0) return undefined;
  const u = column(reading, name, 'magnitude_standard_uncertainty_ohm');
  return { frequency_hz, magnitude_ohm, phase_deg, ...(u ? { magnitude_standard_uncertainty_ohm: u } : {}) };
}

function residualOf(reading: Reading): { frequency_hz: ArrayLike<number>; percent: ArrayLike<number> } | undefined {
  const frequency_hz = column(reading, 'residual', 'frequency_hz');
  const percent = column(reading, 'residual', 'percent');
  return frequency_hz && percent ? { frequency_hz, percent } : undefined;
}

/** Bands within the take of which it says nothing, as the core tells them. */
function refusedBands(reading: Reading): RefusedBand[] {
  const low = column(reading, 'refused_bands', 'low_hz');
  const high = column(reading, 'refused_bands', 'high_hz');
  if (!low || !high) return [];
  return Array.from(low, (low_hz, i) => ({ low_hz, high_hz: high[i] ?? low_hz, words: plotWords.nothingBetween(significant(low_hz, 2), `${significant(high[i] ?? low_hz, 2)}${NBSP}Hz`) }));
}
