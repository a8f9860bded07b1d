// Before and after: the curves of a part's readings over each other, the latest solid, and its figures day by day.
import { curveOf } from '../bench/impedance/evidence';
import { figureText } from '../ui/figure';
import { Overlay, type OverlayCurve } from '../ui/plot/overlay';
import { Symbol } from '../ui/symbol';
import { figureWords } from '../words/figures';
import { jobWords } from '../words/job';
import { Compared } from './compared';
import type { Filed } from '../core/types.gen';
import type { KeptReading } from './keeping';
import type { PartProps } from './part_screen';
import { when } from './when';

const w = jobWords.history;
/** More lines than these cannot be told apart. */
const MOST = 4;
export const SHOWN = ['r_e_ohm', 'f_s_hz', 'q_ms', 'q_es', 'q_ts', 'z_max_ohm', 'm_ms_kg'];

export interface Day {
  entry: Filed;
  kept: KeptReading;
}

/** Filed readings that are still kept and give figures, in the order in which they were taken. */
export function daysOf({ part, view }: Pick<PartProps, 'part' | 'view'>): Day[] {
  const all = part.filed.flatMap((entry) => {
    const kept = view?.readings.get(entry.reading);
    return kept && kept.reading.outcome !== 'refused' ? [{ entry, kept }] : [];
  });
  return all.sort((a, b) => a.kept.createdAt - b.kept.createdAt);
}

export function HistorySection(props: PartProps) {
  const days = daysOf(props).filter(({ kept }) => kept.reading.values['f_s_hz']);
  if (days.length < 2) return null;
  const names = SHOWN.filter((name) => days.some(({ kept }) => kept.reading.values[name]));
  const curves = curvesOf(days);
  return (
    <section aria-labelledby="history">
      <h2 id="history">{w.title}</h2>
      <Compared days={days} />
      {curves.length > 1 && <Overlay curves={curves} summary={w.summary(curves.map((c) => c.label).join('; '))} />}
      <div class="table-scroll" tabIndex={0} role="region" aria-label={w.numbers}>
        <table class="table">
          <thead>
            <tr>
              <th scope="col">{w.day}</th>
              {names.map((name) => (
                <th key={name} scope="col" class="n">
                  <Symbol of={figureWords(name).symbol ?? name} />
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {days.map((day) => (
              <tr key={day.kept.id}>
                <th scope="row">{labelOf(day)}</th>
                {names.map((name) => {
                  const figure = day.kept.reading.values[name];
                  return (
                    <td key={name} class="n">
                      {figure ? figureText(name, figure) : ''}
                    </td>
                  );
                })}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </section>
  );
}

export const labelOf = ({ entry, kept }: Day): string => [jobWords.phases[entry.phase], when(kept.createdAt), entry.note].filter(Boolean).join(', ');

function curvesOf(days: Day[]): OverlayCurve[] {
  const drawn = days.flatMap((day) => {
    const curve = curveOf(day.kept.reading, 'fit') ?? curveOf(day.kept.reading, 'impedance');
    return curve ? [{ day, curve }] : [];
  });
  // The first and the latest tell before and after; between them the latest.
  const shown = drawn.length > MOST ? [...drawn.slice(0, 1), ...drawn.slice(-(MOST - 1))] : drawn;
  return shown.map(({ day, curve }, i): OverlayCurve => ({ whose: i === shown.length - 1 ? 'fit' : i === shown.length - 2 && shown.length > 2 ? 'partner' : 'earlier', label: labelOf(day), ...curve }));
}
