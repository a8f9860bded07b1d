// Break-in: readings with their hours, and whether it has come to its end.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../core/client';
import type { BreakIn, BreakInReading } from '../core/types.gen';
import { figureText } from '../ui/figure';
import { fixed, NBSP, pair } from '../ui/format';
import { StateMark, type MarkName } from '../ui/marks';
import { Symbol } from '../ui/symbol';
import { historyWords } from '../words/history';
import { jobWords } from '../words/job';
import { daysOf, type Day } from './history_section';
import { jigOf } from './overview';
import type { PartProps } from './part_screen';

const w = historyWords.breakIn;
const MARKS: Record<BreakIn['says'], MarkName> = { go_on: 'next', enough: 'done', not_settling: 'failed', cannot_tell: 'doubtful' };

export function BreakInSection(props: PartProps) {
  const [found, setFound] = useState<BreakIn>();
  const log = logOf(daysOf(props));
  const key = JSON.stringify(log.map(({ entry }) => [entry.reading, entry.conditions.break_in_h]));
  useEffect(() => {
    if (log.length === 0) return setFound(undefined);
    let here = true;
    const same_jig = log.every(({ kept }) => jigOf(kept) === jigOf(log[0]!.kept));
    void core.breakIn({ readings: log.map(forCore), same_jig, threshold: null }).then((answer) => here && setFound(answer));
    return () => void (here = false);
  }, [key]);
  return (
    <section aria-labelledby="break-in">
      <h2 id="break-in">{jobWords.breakIn.title}</h2>
      <p class="note">{jobWords.breakIn.help}</p>
      {log.length > 0 && (
        <ul class="part-rows">
          {log.map(({ entry, kept }) => (
            <li key={kept.id}>
              <b>{jobWords.breakIn.hours(hoursText(entry.conditions.break_in_h ?? 0))}</b>
              <span>
                <Symbol of="f_s" /> {kept.reading.values['f_s_hz'] && figureText('f_s_hz', kept.reading.values['f_s_hz'])}
              </span>
            </li>
          ))}
        </ul>
      )}
      <div role="status">{found && <Told found={found} />}</div>
    </section>
  );
}

const hoursText = (hours: number) => fixed(hours, hours < 10 && !Number.isInteger(hours) ? 1 : 0);

/** Readings that have their hours noted and f_s, of the check that most of them are by. */
function logOf(days: Day[]): Day[] {
  const timed = days.filter(({ entry, kept }) => entry.conditions.break_in_h !== null && kept.reading.outcome === 'reading' && kept.reading.values['f_s_hz']);
  const count = (check: string) => timed.filter(({ kept }) => kept.check === check).length;
  const [first] = timed.map(({ kept }) => kept.check).sort((a, b) => count(b) - count(a));
  return timed.filter(({ kept }) => kept.check === first).sort((a, b) => (a.entry.conditions.break_in_h ?? 0) - (b.entry.conditions.break_in_h ?? 0));
}

function forCore({ entry, kept }: Day): BreakInReading {
  const { f_s_hz, q_ts } = kept.reading.values;
  return { hours: entry.conditions.break_in_h ?? 0, f_s_hz: f_s_hz!, q_ts: q_ts ?? null };
}

function Told({ found }: { found: BreakIn }) {
  const trend = found.f_s && pair(found.f_s.percent, found.f_s.half_width_95_percent);
  const settles = found.settles && pair(found.settles.f_s_hz, found.settles.half_width_95_hz);
  return (
    <div class="outcome">
      <div class="word">
        <StateMark name={MARKS[found.says]} size={28} />
        <span>{w.says[found.says]}</span>
      </div>
      {trend && (
        <p>
          <Symbol of="f_s" /> {w.trend(trend.value, trend.plusMinus)}; {w.allowed(`${fixed(found.threshold_percent, 1)}`)} ({jobWords.reasons.common}).
        </p>
      )}
      {found.total_percent !== null && <p>{w.total(`${found.total_percent > 0 ? '+' : ''}${fixed(found.total_percent, 1)}${NBSP}`.trim())}</p>}
      <p>{settles ? w.settles(settles.value, settles.plusMinus) : w.notSettled}</p>
    </div>
  );
}
