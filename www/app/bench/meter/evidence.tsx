// Evidence of a reading by meter: the readings with their error bars over the fitted curve, and the same as a table.
import type { Reading } from '../../core/types.gen';
import { significant, NBSP } from '../../ui/format';
import { ReadingsPlot } from '../../ui/plot/readings';
import { CurveTable } from '../../ui/tables';
import { meterWords as w } from '../../words/meter';
import { column, columns } from '../curves';

export function MeterEvidence({ reading }: { reading: Reading }) {
  const hz = column(reading, 'impedance', 'frequency_hz');
  const ohm = column(reading, 'impedance', 'magnitude_ohm');
  const u = column(reading, 'impedance', 'magnitude_standard_uncertainty_ohm');
  if (!hz || !ohm || !u || hz.length === 0) return null;
  const fit = { hz: column(reading, 'fit', 'frequency_hz') ?? [], ohm: column(reading, 'fit', 'magnitude_ohm') ?? [], u: column(reading, 'fit', 'magnitude_standard_uncertainty_ohm') ?? [] };
  const f_s = reading.values['f_s_hz']?.value;
  const z_max = reading.values['z_max_ohm']?.value;
  const summary = f_s && z_max ? w.summary(`${significant(f_s, 3)}${NBSP}Hz`, `${significant(z_max, 3)}${NBSP}Ω`) : w.table;
  return (
    <div>
      <ReadingsPlot points={{ hz, ohm, u }} fit={fit} summary={summary} {...(f_s && z_max ? { peak: { hz: f_s, ohm: z_max } } : {})} />
      <CurveTable title={w.table} curve={columns(reading, 'impedance') ?? {}} />
    </div>
  );
}
