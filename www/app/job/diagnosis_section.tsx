// What a part suffers from, by its readings against one reference: partner, its own earlier readings, published figures.
import { useState } from 'preact/hooks';
import { core } from '../core/client';
import type { Diagnosis, DiagnosisReading, DiagnosisReference, FaultFinding, LevelDifference, Part } from '../core/types.gen';
import { partOf } from '../match/candidates';
import { figureText as figureName } from '../match/limits';
import { Button, Choice, Fault } from '../ui/controls';
import { fixed, NBSP, pair, plusMinus, significant } from '../ui/format';
import { StateMark, type MarkName } from '../ui/marks';
import { Rich } from '../ui/symbol';
import { diagnosisWords as w } from '../words/diagnosis';
import { jobWords } from '../words/job';
import { daysOf, type Day } from './history_section';
import { partnerOf, type Job } from './jobs';
import type { KeptReading } from './keeping';
import { jigOf, type JobView } from './overview';
import { MaybeNumber } from './maybe_number';
import { partName } from './part_words';
import type { PartProps } from './part_screen';

type Against = 'partner' | 'earlier' | 'published';

interface Answer {
  diagnosis: Diagnosis;
  other: string;
}

const MARKS: Record<Diagnosis['conclusion'], MarkName> = { sound: 'done', found: 'failed', undecided: 'doubtful', unexplained: 'doubtful', too_little: 'empty' };

export function DiagnosisSection({ open, part, view }: PartProps) {
  const { job } = open;
  const [against, setAgainst] = useState<Against>();
  const [answer, setAnswer] = useState<Answer>();
  const [fault, setFault] = useState('');
  const [level, setLevel] = useState<{ db: number | null; half_db: number | null }>({ db: null, half_db: null });
  if (!view) return null;
  const ways = waysOf(job, part, view);
  const chosen = against && ways.some((way) => way.id === against) ? against : ways[0]?.id;
  const own = readingsOf(daysOf({ part, view }).filter(({ entry }) => entry.phase !== 'as_found' || chosen !== 'earlier'));
  if (own.length === 0 || !chosen) return null;
  // An answer holds for what it was asked with.
  const typed = (more: Partial<typeof level>) => {
    setLevel({ ...level, ...more });
    setAnswer(undefined);
  };
  const ask = async () => {
    setFault('');
    try {
      const { reference, other } = referenceFor(chosen, job, part, view);
      setAnswer({ other, diagnosis: await core.diagnose({ readings: own.map(toDiagnosis), dc_ohm: null, reference, level: levelOf(level), spread: null }) });
    } catch (error) {
      setFault(error instanceof Error ? error.message : String(error));
    }
  };
  return (
    <section aria-labelledby="diagnosis">
      <h2 id="diagnosis">{w.title}</h2>
      <Choice
        legend={jobWords.diagnosis.against}
        options={ways}
        value={chosen}
        onChange={(id) => {
          setAgainst(id as Against);
          setAnswer(undefined);
        }}
      />
      {chosen !== 'published' && (
        <div class="fields">
          <MaybeNumber label={jobWords.diagnosis.level} help={jobWords.diagnosis.levelHelp} unit="dB" low={-20} high={20} value={level.db} onValue={(db) => typed({ db })} />
          <MaybeNumber label={jobWords.diagnosis.levelWidth} help={jobWords.diagnosis.levelWidthHelp} unit="dB" low={0.01} high={10} value={level.half_db} onValue={(half_db) => typed({ half_db })} />
        </div>
      )}
      <div class="buttons across">
        <Button kind="plain" onPress={() => void ask()}>
          {jobWords.diagnosis.ask}
        </Button>
      </div>
      {fault && <Fault text={fault} />}
      <div role="status">{answer && <Told {...answer} name={partName(part)} />}</div>
    </section>
  );
}

/** A level without its ± proves nothing and is left out. */
function levelOf({ db, half_db }: { db: number | null; half_db: number | null }): LevelDifference | null {
  return db === null || half_db === null ? null : { db, standard_uncertainty_db: half_db / 1.96 };
}

function waysOf(job: Job, part: Part, view: JobView): { id: Against; label: string }[] {
  const partner = partnerOf(job, part);
  const ways: { id: Against; label: string }[] = [];
  if (partner && daysOf({ part: partner, view }).length > 0) ways.push({ id: 'partner', label: partName(partner) });
  if (part.references.length > 0) ways.push({ id: 'published', label: w.references.published });
  const phases = daysOf({ part, view }).map(({ entry }) => entry.phase);
  if (phases.includes('as_found') && phases.some((p) => p !== 'as_found')) ways.push({ id: 'earlier', label: w.references.earlier });
  return ways;
}

/** The latest reading of each check. */
function readingsOf(days: Day[]): KeptReading[] {
  return [...new Map(days.map(({ kept }) => [kept.check, kept])).values()];
}

function toDiagnosis(kept: KeptReading): DiagnosisReading {
  const { check: _title, name: _name, ...rest } = partOf(kept, '');
  const { warnings, refusal } = kept.reading;
  return { ...rest, check: kept.check, codes: [...warnings.map((x) => x.code), ...(refusal ? [refusal.code] : [])] };
}

function referenceFor(against: Against, job: Job, part: Part, view: JobView): { reference: DiagnosisReference; other: string } {
  const mine = readingsOf(daysOf({ part, view }));
  if (against === 'published') {
    const figures = part.references.map((r) => ({ name: r.name, value: r.value, tolerance: Math.max(r.below, r.above) }));
    return { reference: { kind: 'published', figures }, other: w.references.published };
  }
  const partner = partnerOf(job, part);
  const days = against === 'partner' && partner ? daysOf({ part: partner, view }) : daysOf({ part, view }).filter(({ entry }) => entry.phase === 'as_found');
  const readings = readingsOf(days);
  const same_jig = readings.every((r) => mine.some((m) => m.check === r.check && jigOf(m) === jigOf(r)));
  return { reference: { kind: against, readings: readings.map(toDiagnosis), dc_ohm: null, same_jig }, other: against === 'partner' && partner ? partName(partner) : w.references.earlier };
}

function Told({ diagnosis: d, other, name }: Answer & { name: string }) {
  return (
    <div class="diagnosis">
      <div class="outcome">
        <div class="word">
          <StateMark name={MARKS[d.conclusion]} size={28} />
          <span>{jobWords.diagnosis.conclusions[d.conclusion]}</span>
        </div>
        <p>{w.conclusions[d.conclusion](name, other)}</p>
      </div>
      {d.findings.map((finding) => (
        <Finding key={finding.pattern} finding={finding} name={name} other={other} next={d.next} />
      ))}
      <p>
        <b>{w.next}:</b> {w.actions[d.next]}
      </p>
      {d.evidence.length > 0 && <Evidence d={d} />}
      {d.not_shown.length > 0 && (
        <p class="note">
          {w.notShown}: {d.not_shown.map((p) => w.patterns[p].name).join(', ')}.
        </p>
      )}
      <p class="note">
        {w.noCheckYet}: {d.no_check_yet.map((u) => w.unseen[u]).join(', ')}. {w.falseAlarms}
      </p>
    </div>
  );
}

function Finding({ finding: f, name, other, next }: { finding: FaultFinding; name: string; other: string; next: Diagnosis['next'] }) {
  const words = w.patterns[f.pattern];
  const severity = words.counts && f.severity_percent !== null && f.severity_half_width_95_percent !== null ? pair(f.severity_percent, f.severity_half_width_95_percent) : undefined;
  return (
    <section class="finding">
      <h3>{words.says[f.whose](name, other)}</h3>
      <ul class="reasons">
        <li>
          <Rich text={words.shows} />
        </li>
        {severity && words.counts && <li>{w.severity(words.counts, severity.value, severity.plusMinus)}</li>}
        <li>{w.confidence[f.confidence]}</li>
        <li>{words.cause}</li>
        {f.less_likely > 1 && <li>{w.lessLikely(significant(f.less_likely, 2))}</li>}
        {f.confused_with.length > 0 && (
          <li>
            {w.confused}: {f.confused_with.map((p) => w.patterns[p].name).join(', ')}. {w.confusedHelp}
          </li>
        )}
        {f.next !== next && <li>{w.actions[f.next]}</li>}
      </ul>
    </section>
  );
}

function Evidence({ d }: { d: Diagnosis }) {
  const first = d.findings[0];
  const percent = (value: number) => `${value > 0 ? '+' : ''}${fixed(value, Math.abs(value) < 10 ? 1 : 0)}${NBSP}%`;
  const label = (name: string) => (name === 'level' ? w.level : figureName(name));
  return (
    <div class="table-scroll" tabIndex={0} role="region" aria-label={w.evidence}>
      <table class="table">
        <caption>
          {w.evidence}. <span class="note">{w.evidenceHelp}</span>
        </caption>
        <thead>
          <tr>
            <th scope="col">{jobWords.diagnosis.figure}</th>
            <th scope="col" class="n">{w.measured}</th>
            <th scope="col" class="n">{w.usual}</th>
            {first && first.expected_percent.length > 0 && <th scope="col" class="n">{w.expected}</th>}
          </tr>
        </thead>
        <tbody>
          {d.evidence.map((e, i) => {
            return (
              <tr key={`${e.name}-${e.check}`}>
                <th scope="row">{label(e.name)}</th>
                <td class="n">{plusMinus(e.percent, e.half_width_95_percent, `${NBSP}%`)}</td>
                <td class="n">{`±${NBSP}${fixed(e.usual_percent, e.usual_percent < 10 ? 1 : 0)}${NBSP}%`}</td>
                {first && first.expected_percent.length > 0 && <td class="n">{percent(first.expected_percent[i] ?? 0)}</td>}
              </tr>
            );
          })}
        </tbody>
      </table>
    </div>
  );
}
