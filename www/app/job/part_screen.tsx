// A part of a job: its checks with their reasons, what it is held against, its readings.
import { useEffect, useRef } from 'preact/hooks';
import type { Cell, Part, Row, Side } from '../core/types.gen';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Choice, LinesEntry, TextEntry } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { href } from '../ui/route';
import { Rich } from '../ui/symbol';
import { jobWords } from '../words/job';
import { CheckStarts } from './check_starts';
import { BreakInSection } from './break_in_section';
import { CoilSection, type FittedReading } from './coil/section';
import { JobFrame, SavedNote, Undone } from './job_frame';
import { NotThere } from './not_there';
import { partnerOf, withPart } from './jobs';
import { LookSection } from './look/section';
import { MaybeNumber } from './maybe_number';
import { OwnVerdict } from './own_verdict';
import { useOverview, type JobView } from './overview';
import { jobTitle, partName } from './part_words';
import { FiledReadings } from './filed_readings';
import { cellText, reasonText } from './reason_words';
import { HistorySection } from './history_section';
import { DiagnosisSection } from './diagnosis_section';
import { References } from './references';
import { StateWord } from './state_marks';
import type { OpenJob } from './use_job';

const w = jobWords.part;

export function PartScreen({ id, part, check }: { id: string; part: string; check: string | null }) {
  return (
    <JobFrame id={id}>
      {(open) => {
        const found = open.job.parts.find((p) => p.id === part);
        return found ? <Shown open={open} part={found} check={check} /> : <NotThere title={jobWords.missing} help={jobWords.missingHelp} />;
      }}
    </JobFrame>
  );
}

export interface PartProps {
  open: OpenJob;
  part: Part;
  /** Changes this part. */
  change: (act: (part: Part) => Part, said?: string) => void;
  view: JobView | undefined;
}

function Shown({ open, part, check }: { open: OpenJob; part: Part; check: string | null }) {
  const { job } = open;
  const name = partName(part);
  const heading = useTitle<HTMLHeadingElement>(`${name}, ${jobTitle(job)}`);
  const view = useOverview(job);
  const change: PartProps['change'] = (act, said) => open.change((now) => withPart(now, part.id, act), said);
  const props: PartProps = { open, part, change, view };
  const row = view?.overview.groups.flatMap((g) => g.rows).find((r) => r.part === part.id);
  const partner = partnerOf(job, part);
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={href('job', [job.id])} backLabel={jobWords.card.back} boxes={{ job: jobTitle(job), part: name, check: w.title }} />
            <div class="card-body part-body">
              <h1 ref={heading} tabIndex={-1}>
                {name}
              </h1>
              <p class="note">{[part.model, part.mark].filter(Boolean).join(', ')}</p>
              <Undone open={open} />
              {row && <Checks {...props} row={row} check={check} />}
              {part.kind === 'driver' && <References {...props} />}
              {part.kind === 'driver' && <FiledReadings {...props} />}
              {part.kind === 'driver' && <HistorySection {...props} />}
              {part.kind === 'driver' && <BreakInSection {...props} />}
              {part.kind === 'driver' && <DiagnosisSection {...props} />}
              <Details {...props} />
            </div>
          </>
        }
        stub={
          <>
            <Button kind="main" href={href('job', [job.id])}>
              {jobWords.card.back}
            </Button>
            {partner && (
              <Button kind="plain" href={href('job', [job.id, 'part', partner.id])}>
                {partName(partner)}
              </Button>
            )}
            <SavedNote open={open} />
          </>
        }
      />
    </Page>
  );
}

function Checks({ row, check, ...props }: PartProps & { row: Row; check: string | null }) {
  return (
    <section aria-labelledby="checks">
      <h2 id="checks">{w.verdicts}</h2>
      <ul class="part-checks">
        {row.cells.map((cell) => (
          <CheckRow key={cell.check} {...props} cell={cell} called={cell.check === check} />
        ))}
      </ul>
    </section>
  );
}

function CheckRow({ cell, called, ...props }: PartProps & { cell: Cell; called: boolean }) {
  const place = useRef<HTMLLIElement>(null);
  useEffect(() => {
    if (called) place.current?.scrollIntoView({ block: 'center' });
  }, [called]);
  const text = cellText(cell);
  // Sound points are told by their number.
  const told = cell.reasons.filter((r) => r.ground !== 'point' || r.verdict !== 'pass');
  const sound = cell.reasons.length - told.length;
  return (
    <li ref={place} class={called ? 'called' : ''}>
      <div class="head">
        <h3>{jobWords.checks[cell.check]}</h3>
        <StateWord state={cell.state} />
        {text && <b>{text}</b>}
      </div>
      {cell.set_aside && cell.measured && <p>{jobWords.override.said(jobWords.states[cell.state], cell.set_aside.by, cell.set_aside.reason, jobWords.states[cell.measured])}</p>}
      {cell.reasons.length > 0 && (
        <ul class="reasons">
          {sound > 0 && <li>{w.soundPoints(sound)}</li>}
          {told.map((reason, i) => (
            <li key={i}>
              <Rich text={reasonText(reason)} />
            </li>
          ))}
        </ul>
      )}
      <div class="acts">
        {cell.reading && (
          <a class="text-button" href={href('reading', [cell.reading])}>
            {jobWords.readings.one}
          </a>
        )}
        <OwnVerdict {...props} cell={cell} />
      </div>
      <CheckStarts {...props} cell={cell} open={called} job={props.open.job} />
      {cell.check === 'look' && <LookSection part={props.part} onChange={props.change} open={called} />}
      {cell.check === 'coil' && <CoilSection part={props.part} fitted={fittedIn(props)} onChange={props.change} open={called} />}
    </li>
  );
}

/** R_e of the part's readings, to stand beside the meter's. */
function fittedIn({ part, view }: PartProps): FittedReading[] {
  return part.filed.flatMap(({ reading, conditions, phase }) => {
    const kept = view?.readings.get(reading);
    const r_e_ohm = kept?.reading.outcome === 'reading' ? kept.reading.values['r_e_ohm'] : undefined;
    return kept && r_e_ohm ? [{ reading, r_e_ohm, temperature_c: conditions.temperature_c, createdAt: kept.createdAt, phase }] : [];
  });
}

const SIDES = Object.entries(jobWords.sides).map(([id, label]) => ({ id, label }));

function Details({ part, change }: PartProps) {
  const text = (name: 'band' | 'model' | 'mark' | 'note') => ({ text: part[name], onText: (value: string) => change((p) => ({ ...p, [name]: value })) });
  return (
    <section aria-labelledby="details">
      <h2 id="details">{w.details}</h2>
      <div class="fields">
        <Choice legend={w.side} options={SIDES} value={part.side} onChange={(side) => change((p) => ({ ...p, side: side as Side }))} />
        <TextEntry label={jobWords.card.band} {...text('band')} />
        <TextEntry label={w.model} {...text('model')} />
        <TextEntry label={w.mark} help={w.markHelp} {...text('mark')} />
        {part.kind === 'driver' && <MaybeNumber label={w.rated} unit="Ω" low={0.5} high={2000} value={part.rated_impedance_ohm} onValue={(value) => change((p) => ({ ...p, rated_impedance_ohm: value }))} />}
        <LinesEntry label={w.note} {...text('note')} />
      </div>
    </section>
  );
}
