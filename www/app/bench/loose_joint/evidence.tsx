// What a loose-joint reading says: whether it held, and where it opened, as tables.
import type { Reading } from '../../core/types.gen';
import { CurveTable } from '../../ui/tables';
import { looseJointWords as w } from '../../words/polarity';
import { columns } from '../curves';

export function LooseJointEvidence({ reading }: { reading: Reading }) {
  const openings = columns(reading, 'openings');
  return (
    <section>
      <h2>{w.title}</h2>
      {openings && (openings['time_s']?.length ?? 0) > 0 && <CurveTable title={w.openings} curve={openings} />}
      <CurveTable title={w.change} curve={columns(reading, 'change') ?? {}} />
    </section>
  );
}
