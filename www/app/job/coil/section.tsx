// The coil by a meter: what was typed, what comes of it, and how it stands beside fits and the rated impedance.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../../core/client';
import type { CoilAnswer, CoilEntry, FittedRe, Part, Phase } from '../../core/types.gen';
import { Fault } from '../../ui/controls';
import { FigureView } from '../../ui/figure';
import { asSet, fixed, NBSP, pair } from '../../ui/format';
import { StateMark } from '../../ui/marks';
import { href } from '../../ui/route';
import { coilWords as w, HINTS } from '../../words/coil';
import { jobWords } from '../../words/job';
import { when } from '../when';
import type { ChangePart } from '../look/section';
import { CoilForm } from './form';

/** R_e of a kept reading; `createdAt` and `phase` tell the person which. */
export type FittedReading = FittedRe & { createdAt: number; phase: Phase };

export function CoilSection({ part, fitted, onChange, open }: { part: Part; fitted: FittedReading[]; onChange: ChangePart; open: boolean }) {
  const last = part.coils[part.coils.length - 1];
  const earlier = part.coils.slice(0, -1).reverse();
  const add = (entry: CoilEntry) => onChange((p) => ({ ...p, coils: [...p.coils, entry] }));
  const remove = (entry: CoilEntry) => onChange((p) => ({ ...p, coils: p.coils.filter((c) => c !== entry && c.at_ms !== entry.at_ms) }), w.removed);
  return (
    <div class="coil">
      {last && <Told key={last.at_ms} part={part} entry={last} fitted={fitted} onRemove={() => remove(last)} />}
      <details class="budgets" open={open && !last}>
        <summary>{last ? w.again : w.title}</summary>
        <p class="note">{w.help}</p>
        <p class="coil-caution">
          <StateMark name="caution" size={22} />
          <span>{w.caution}</span>
        </p>
        <CoilForm last={last} onEntry={add} />
      </details>
      {earlier.length > 0 && (
        <details class="budgets">
          <summary>{w.earlier}</summary>
          {earlier.map((entry) => (
            <Told key={entry.at_ms} part={part} entry={entry} fitted={[]} onRemove={() => remove(entry)} />
          ))}
        </details>
      )}
    </div>
  );
}

const bare = ({ reading, r_e_ohm, temperature_c }: FittedReading): FittedRe => ({ reading, r_e_ohm, temperature_c });

function Told({ part, entry, fitted, onRemove }: { part: Part; entry: CoilEntry; fitted: FittedReading[]; onRemove: () => void }) {
  const [found, setFound] = useState<CoilAnswer>();
  const [fault, setFault] = useState('');
  const rated = part.rated_impedance_ohm;
  const fits = fitted.map((f) => f.reading).join();
  useEffect(() => {
    let here = true;
    core.judgeCoil({ entry, fitted: fitted.map(bare), rated_impedance_ohm: rated }).then(
      (answer) => here && setFound(answer),
      (error: unknown) => here && setFault(error instanceof Error ? error.message : String(error)),
    );
    return () => void (here = false);
  }, [entry, rated, fits]);
  const at = w.kept(when(entry.at_ms), jobWords.phases[entry.phase]);
  const shown = entry.shown_ohm.map((r) => asSet(r)).join(', ') + `${NBSP}Ω`;
  return (
    <div class="coil-told">
      <div class="coil-head">
        <h4>{at}</h4>
        <button type="button" class="text-button" aria-label={w.removeOf(at)} onClick={onRemove}>
          {w.remove}
        </button>
      </div>
      {fault && <Fault text={fault} />}
      {found?.r_e_ohm && <FigureView name="r_e_ohm" figure={found.r_e_ohm} beside={w.at20(shown)} />}
      {entry.note && <p>{entry.note}</p>}
      {found && <Beside found={found} entry={entry} fitted={fitted} />}
      {found && found.hints.length > 0 && (
        <ul class="coil-hints">
          {found.hints.map((hint) => (
            <li key={hint}>
              {HINTS[hint](found)}{' '}
              {(hint === 'loose_joint' || hint === 'wandering') && <a href={href('setup', ['loose_joint'])}>{w.looseJoint}</a>}
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}

function Beside({ found, entry, fitted }: { found: CoilAnswer; entry: CoilEntry; fitted: FittedReading[] }) {
  const frame = entry.to_frame_megohm;
  const mark = { pass: 'done', fail: 'failed', not_proven: 'doubtful' } as const;
  return (
    <dl class="numbers-list plain">
      <div>
        <dt>{w.toFrameOf}</dt>
        <dd class="with-mark">
          {found.to_frame_read && <StateMark name={mark[found.to_frame]} size={18} />}
          <span>
            {found.to_frame_read ? `${w.toFrame[found.to_frame]}${frame == null ? '' : `: ${entry.to_frame_over_range ? w.toFrameMore(frame) : w.toFrameIs(frame)}`}` : w.toFrameNone}
          </span>
        </dd>
      </div>
      {found.against_rated && (
        <div>
          <dt>{w.againstRated}</dt>
          <dd>
            {w.rated(fixed(found.against_rated.share, 2))}; {w.ratedWords[found.against_rated.agreement]}
          </dd>
        </div>
      )}
      {found.against_fit.map((beside) => {
        const { value, plusMinus } = pair(beside.difference_ohm, beside.half_width_95 ?? 0);
        const apart = beside.half_width_95 == null ? value : `${value}${NBSP}±${NBSP}${plusMinus}`;
        const of = fitted.find((f) => f.reading === beside.reading);
        return (
          <div key={beside.reading}>
            <dt>{of ? w.againstFit(w.kept(when(of.createdAt), jobWords.phases[of.phase])) : beside.reading}</dt>
            <dd>{w.fitWords[beside.agreement](`${apart}${NBSP}Ω`)}</dd>
          </div>
        );
      })}
    </dl>
  );
}
