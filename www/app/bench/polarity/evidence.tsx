// What a polarity reading says: which way each driver moves, in one line a driver; below it every movement as a table.
import type { Reading } from '../../core/types.gen';
import { fixed } from '../../ui/format';
import { CurveTable } from '../../ui/tables';
import { polarityWords as w } from '../../words/polarity';
import { columns } from '../curves';

export function PolarityEvidence({ reading }: { reading: Reading }) {
  const drivers = Object.entries(reading.chosen).flatMap(([name, said]) => {
    const number = /^driver_(\d+)$/.exec(name)?.[1];
    return number && said ? [{ number, said, margin: reading.values[`driver_${number}_margin`]?.value }] : [];
  });
  return (
    <section>
      <h2>{w.title}</h2>
      <ul class="polarity">
        {drivers.map(({ number, said, margin }) => (
          <li key={number}>
            <strong>
              {w.driver(number)}: {w.said[said] ?? said}
            </strong>
            {margin !== undefined && <span class="note"> {w.margin(fixed(margin, margin < 10 ? 1 : 0))}</span>}
          </li>
        ))}
      </ul>
      <p class="note">{w.input[reading.chosen['input'] ?? 'not_known'] ?? w.input['not_known']}</p>
      <CurveTable title={w.table} curve={columns(reading, 'movements') ?? {}} />
    </section>
  );
}
