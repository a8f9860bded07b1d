// Which parts of a set belong together: readings ticked, limits, the best pairing.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../core/client';
import type { Matched, PairLimit } from '../core/types.gen';
import { listReadings, type KeptReading } from '../job/keeping';
import { when } from '../job/when';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Choice, Fault } from '../ui/controls';
import { figureText } from '../ui/figure';
import { useTitle } from '../ui/focus';
import { href } from '../ui/route';
import { Symbol } from '../ui/symbol';
import { checkWords } from '../words/check';
import { matchWords as w } from '../words/match';
import { groupsOf, nameOf, partOf, type Group } from './candidates';
import { Limits, limitsOf, startLimits, type LimitState } from './limits';
import { MatchedView } from './matched_view';

const MOST = 16;

interface Answer {
  matched: Matched;
  names: string[];
  limits: PairLimit[];
}

export function MatchScreen() {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const [groups, setGroups] = useState<Group[]>();
  const [title, setTitle] = useState('');
  const [ticked, setTicked] = useState<string[]>([]);
  const [sameJig, setSameJig] = useState(true);
  const [common, setCommon] = useState<PairLimit[]>([]);
  const [limits, setLimits] = useState<LimitState[]>([]);
  const [answer, setAnswer] = useState<Answer>();
  const [busy, setBusy] = useState(false);
  const [fault, setFault] = useState('');
  useEffect(() => {
    void listReadings().then((list) => setGroups(groupsOf(list)));
    void core.pairLimits().then((limits) => {
      setCommon(limits);
      setLimits(startLimits(limits));
    });
  }, []);
  const group = groups?.find((g) => g.title === title) ?? groups?.[0];
  const chosen = group?.readings.filter((k) => ticked.includes(k.id)) ?? [];
  const asked = limitsOf(limits);
  // An answer holds for what it was asked with; a change takes it off the card.
  const change = <T,>(set: (value: T) => void) => (value: T) => {
    set(value);
    setAnswer(undefined);
    setFault('');
  };
  const compare = async () => {
    if (!asked) return;
    setBusy(true);
    setFault('');
    try {
      const names = chosen.map((k) => nameOf(k, chosen));
      const parts = chosen.map((k, i) => partOf(k, names[i] ?? k.partName));
      setAnswer({ matched: await core.matchParts({ parts, same_jig: sameJig, limits: asked }), names, limits: asked });
    } catch (error) {
      setFault(error instanceof Error ? error.message : String(error));
    }
    setBusy(false);
  };
  const card = (
    <>
      <Slip back={href('')} backLabel={checkWords.back} boxes={{ check: w.check }} />
      <div class="card-body">
        <h1 ref={heading} tabIndex={-1}>
          {w.title}
        </h1>
        {groups && !group && <p>{w.none}</p>}
        {group && (
          <>
            <p class="note">{w.help}</p>
            {groups && groups.length > 1 && <Choice legend={w.checkChoice} options={groups.map((g) => ({ id: g.title, label: g.title }))} value={group.title} onChange={change(setTitle)} />}
            <Ticks readings={group.readings} ticked={ticked} onTicked={change(setTicked)} />
            <ul class="ticks">
              <li>
                <label>
                  <input type="checkbox" checked={sameJig} onChange={(event) => change(setSameJig)(event.currentTarget.checked)} />
                  <span>{w.sameJig}</span>
                  <span class="why">{w.sameJigHelp}</span>
                </label>
              </li>
            </ul>
            <Limits states={limits} onStates={change(setLimits)} onDefaults={() => change(setLimits)(startLimits(common))} />
            {answer && <MatchedView {...answer} />}
          </>
        )}
      </div>
    </>
  );
  const stub = group ? (
    <>
      {fault && <Fault text={fault} />}
      <Button kind="main" onPress={() => void compare()} {...notYet(chosen.length, busy, asked === undefined)}>
        {w.compare}
      </Button>
    </>
  ) : (
    <Button kind="main" href={href('')}>
      {checkWords.back}
    </Button>
  );
  return (
    <Page kind="check">
      <Sheet card={card} stub={stub} />
    </Page>
  );
}

function notYet(count: number, busy: boolean, wrong: boolean): { notYet?: string } {
  if (busy) return { notYet: w.comparing };
  if (count < 2) return { notYet: w.tickTwo };
  if (count > MOST) return { notYet: w.tickFewer(MOST) };
  return wrong ? { notYet: w.limitsWrong } : {};
}

function Ticks({ readings, ticked, onTicked }: { readings: KeptReading[]; ticked: string[]; onTicked: (ids: string[]) => void }) {
  return (
    <fieldset class="plain">
      <legend>{w.parts}</legend>
      <ul class="ticks">
        {readings.map((kept) => (
          <li key={kept.id}>
            <label>
              <input type="checkbox" checked={ticked.includes(kept.id)} onChange={(event) => onTicked(event.currentTarget.checked ? [...ticked, kept.id] : ticked.filter((id) => id !== kept.id))} />
              <span>{kept.partName}</span>
              <span class="why">
                {when(kept.createdAt)}. <Main kept={kept} />
              </span>
            </label>
          </li>
        ))}
      </ul>
    </fieldset>
  );
}

function Main({ kept }: { kept: KeptReading }) {
  return (
    <>
      {['f_s_hz', 'q_ts'].map((name) => {
        const figure = kept.reading.values[name];
        return (
          figure && (
            <span key={name}>
              <Symbol of={name === 'f_s_hz' ? 'f_s' : name} /> {figureText(name, figure)}{' '}
            </span>
          )
        );
      })}
    </>
  );
}
