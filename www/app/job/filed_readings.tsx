// The readings of a part in the order of their days, with when in the job and how they were taken.
import { useState } from 'preact/hooks';
import type { Attitude, Filed, Phase } from '../core/types.gen';
import { titleOf } from '../bench/kept_screen';
import { Select, TextEntry } from '../ui/controls';
import { figureText } from '../ui/figure';
import { fixed, NBSP } from '../ui/format';
import { href } from '../ui/route';
import { StateMark } from '../ui/marks';
import { Symbol } from '../ui/symbol';
import { words } from '../words/common';
import { jobWords } from '../words/job';
import type { KeptReading } from './keeping';
import { MaybeNumber } from './maybe_number';
import { NO_CONDITIONS } from './filing';
import type { PartProps } from './part_screen';
import { when } from './when';

const w = jobWords.readings;
const PHASES = Object.entries(jobWords.phases).map(([id, label]) => ({ id, label }));
const ATTITUDES = Object.entries(jobWords.attitudes).map(([id, label]) => ({ id, label }));

export function FiledReadings({ open, part, change, view }: PartProps) {
  const put = (reading: string, changes: Partial<Filed>) => change((p) => ({ ...p, filed: p.filed.map((f) => (f.reading === reading ? { ...f, ...changes } : f)) }));
  const byDay = [...part.filed].sort((a, b) => (view?.readings.get(a.reading)?.createdAt ?? a.at_ms) - (view?.readings.get(b.reading)?.createdAt ?? b.at_ms));
  return (
    <section aria-labelledby="readings">
      <h2 id="readings">{w.title}</h2>
      {part.filed.length === 0 && <p class="note">{w.none}</p>}
      <ul class="filed">
        {view &&
          byDay.map((entry) => (
            <FiledRow
              key={entry.reading}
              entry={entry}
              kept={view.readings.get(entry.reading)}
              onChange={(changes) => put(entry.reading, changes)}
              onRemove={(name) => change((p) => ({ ...p, filed: p.filed.filter((f) => f.reading !== entry.reading) }), w.removed(name))}
            />
          ))}
      </ul>
      <a class="text-button" href={href('file', [], { job: open.job.id, part: part.id })}>
        {w.file}
      </a>
    </section>
  );
}

interface RowProps {
  entry: Filed;
  kept: KeptReading | undefined;
  onChange: (changes: Partial<Filed>) => void;
  onRemove: (name: string) => void;
}

function FiledRow({ entry, kept, onChange, onRemove }: RowProps) {
  const [editing, setEditing] = useState(false);
  const name = kept ? `${titleOf(kept)}, ${when(kept.createdAt)}` : w.gone;
  const condition = (more: Partial<Filed['conditions']>) => onChange({ conditions: { ...NO_CONDITIONS, ...entry.conditions, ...more } });
  const c = entry.conditions;
  return (
    <li>
      <div class="head">
        {kept ? <a href={href('reading', [kept.id])}>{name}</a> : <span>{w.gone}</span>}
        {kept && (
          <span class="inline-mark">
            <StateMark name={kept.reading.outcome} size={20} /> {words.outcome[kept.reading.outcome]}
          </span>
        )}
      </div>
      <p class="line">
        {kept &&
          (['f_s_hz', 'q_ts', 'r_e_ohm'] as const).map((figure) => {
            const found = kept.reading.values[figure];
            return (
              found && (
                <span key={figure}>
                  <Symbol of={figure === 'f_s_hz' ? 'f_s' : figure === 'r_e_ohm' ? 'r_e' : figure} /> {figureText(figure, found)}
                </span>
              )
            );
          })}
      </p>
      <p class="note">{[jobWords.phases[entry.phase], conditionsText(entry), entry.note].filter(Boolean).join(', ')}</p>
      <div class="acts">
        <button type="button" class="text-button" aria-label={w.editNamed(name)} aria-expanded={editing} onClick={() => setEditing(!editing)}>
          {w.edit}
        </button>
        <button type="button" class="text-button" aria-label={w.removeNamed(name)} onClick={() => onRemove(name)}>
          {w.remove}
        </button>
      </div>
      {editing && (
        <div class="fields">
          <Select label={w.phase} options={PHASES} value={entry.phase} onChange={(phase) => onChange({ phase: phase as Phase })} />
          <MaybeNumber label={w.temperature} unit="°C" low={-20} high={80} value={c.temperature_c} onValue={(temperature_c) => condition({ temperature_c })} />
          <MaybeNumber label={w.level} unit="V" low={1e-4} high={100} value={c.level_v} onValue={(level_v) => condition({ level_v })} />
          <MaybeNumber label={w.rest} unit="min" low={0} high={1e6} value={c.rest_min} onValue={(rest_min) => condition({ rest_min })} />
          <MaybeNumber label={w.breakIn} unit="h" low={0} high={1e4} value={c.break_in_h} onValue={(break_in_h) => condition({ break_in_h })} />
          <Select label={w.attitude} options={ATTITUDES} value={c.attitude ?? 'unknown'} onChange={(id) => condition({ attitude: id === 'unknown' ? null : (id as Attitude) })} />
          <TextEntry label={w.note} text={entry.note} onText={(note) => onChange({ note })} />
        </div>
      )}
    </li>
  );
}

/** Conditions in one line; what is not known is left out. */
export function conditionsText({ conditions: c }: Filed): string {
  const parts = [
    c.temperature_c === null ? '' : `${fixed(c.temperature_c, 0)}${NBSP}°C`,
    c.level_v === null ? '' : `${forVolts(c.level_v)}${NBSP}V`,
    c.rest_min === null ? '' : `${fixed(c.rest_min, 0)}${NBSP}min rest`,
    c.attitude === null ? '' : jobWords.attitudes[c.attitude],
    c.break_in_h === null ? '' : `${fixed(c.break_in_h, c.break_in_h < 10 ? 1 : 0)}${NBSP}h broken in`,
  ].filter(Boolean);
  return parts.join(', ') || w.unknown;
}

const forVolts = (volts: number) => String(Number(volts.toPrecision(3)));
