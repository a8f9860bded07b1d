// Two readings of a part: what may be compared, why not, and what changed.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../core/client';
import type { HistoryCompared, HistoryReading } from '../core/types.gen';
import { FigureName } from '../match/limits';
import { Select } from '../ui/controls';
import { NBSP, plusMinus } from '../ui/format';
import { historyWords as w } from '../words/history';
import { jobWords } from '../words/job';
import { labelOf, SHOWN, type Day } from './history_section';
import { jigOf } from './overview';

/** `days` in their order, two at least. The latest is held against one that can be chosen, the first at the beginning. */
export function Compared({ days }: { days: Day[] }) {
  const [found, setFound] = useState<HistoryCompared>();
  const [earlierId, setEarlierId] = useState('');
  const later = days[days.length - 1];
  const before = days.slice(0, -1);
  // The like is compared with the like, the first time with now, where there is one.
  const earlier = before.find((d) => d.kept.id === earlierId) ?? before.find((d) => d.kept.check === later?.kept.check) ?? before[0];
  useEffect(() => {
    if (!earlier || !later) return;
    let here = true;
    const same_jig = jigOf(earlier.kept) === jigOf(later.kept);
    void core.compareHistory({ earlier: forCore(earlier), later: forCore(later), same_jig, limits: null }).then((answer) => here && setFound(answer));
    return () => void (here = false);
  }, [earlier?.kept.id, later?.kept.id, JSON.stringify([earlier?.entry.conditions, later?.entry.conditions])]);
  if (!later || !found) return null;
  return (
    <div class="compared">
      <Select label={jobWords.history.against} options={before.map((d) => ({ id: d.kept.id, label: labelOf(d) }))} value={earlier?.kept.id ?? ''} onChange={setEarlierId} />
      <div class="table-scroll whole" tabIndex={0} role="region" aria-label={jobWords.history.against}>
        <table class="table">
          <thead>
            <tr>
              <th scope="col">{jobWords.diagnosis.figure}</th>
              <th scope="col" class="n">{jobWords.history.change}</th>
              <th scope="col">{jobWords.history.says}</th>
            </tr>
          </thead>
          <tbody>
            {found.figures.filter((f) => SHOWN.includes(f.name)).map((f) => {
              return (
                <tr key={f.name}>
                  <th scope="row">
                    <FigureName name={f.name} />
                  </th>
                  <td class="n">{f.percent !== null && f.half_width_95_percent !== null ? plusMinus(f.percent, f.half_width_95_percent, `${NBSP}%`) : ''}</td>
                  <td>
                    {f.changed !== null && `${w.changed[`${f.changed}`]}, `}
                    {w.comparability[f.comparability]}
                    {f.obstacles.length > 0 && <span class="note">{` ${f.obstacles.map((o) => w.obstacles[o.code](o.numbers)).join(' ')}`}</span>}
                  </td>
                </tr>
              );
            })}
          </tbody>
        </table>
      </div>
      <p class="note">{w.limitsNote}</p>
    </div>
  );
}

function forCore({ entry, kept }: Day): HistoryReading {
  const { temperature_c, level_v, rest_min, attitude } = entry.conditions;
  const sensor = kept.setup['sensor'];
  return { check: kept.check, sensor: typeof sensor === 'string' ? sensor : null, values: kept.reading.values, temperature_c, level_v, rest_min, attitude };
}
