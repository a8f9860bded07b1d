// The owner's record: what was found, done, measured and not proven, on one page, with a label to tear off.
import type { GroupSummary, Job, Shown } from '../../core/types.gen';
import { Rich } from '../../ui/symbol';
import { papersWords } from '../../words/papers';
import { figureText } from '../../ui/figure';
import { jobTitle } from '../part_words';
import { dayText } from '../job_screen';
import type { OpenJob } from '../use_job';
import { usePaper, type PaperView } from './load';
import { plotsOf, RecordCurves } from './record_curves';
import { careLines, doneLines, failedLines, handLines, methodLines, notDoneLines, refusedLines, unprovenLines } from './record_lines';
import { Conditions, RecordTable } from './record_table';
import { RecordPhotos } from './record_photos';
import { Boxes, Lines, PaperHead, PaperSheet, SignHere } from './sheet';
import { Stamp } from './stamp';
import { summaryText } from './summary_text';
import { figuresOf } from './load';
import { called, paperDay } from './texts';

const w = papersWords.record;
const CHOICES = Object.keys(w.shown) as (keyof Shown)[];

export function RecordPaper({ open }: { open: OpenJob }) {
  const view = usePaper(open.job);
  return (
    <PaperSheet open={open} name="record" stub={<Choices open={open} />}>
      {view && <Paper job={open.job} view={view} />}
    </PaperSheet>
  );
}

function Choices({ open: { job, change } }: { open: OpenJob }) {
  return (
    <fieldset class="plain">
      <legend>{w.show}</legend>
      <ul class="ticks">
        {CHOICES.map((name) => (
          <li key={name}>
            <label>
              <input type="checkbox" checked={job.shown[name]} onChange={(event) => change((now) => ({ ...now, shown: { ...now.shown, [name]: event.currentTarget.checked } }))} />
              <span>{w.shown[name]}</span>
            </label>
          </li>
        ))}
      </ul>
    </fieldset>
  );
}

function Paper({ job, view }: { job: Job; view: PaperView }) {
  const { shown } = job;
  const plots = shown.curves ? plotsOf(job, view) : [];
  const stamp = <Stamp verdict={view.summary.whole} what={view.summary.groups.every((g) => g.parts.length === 2) && view.summary.groups.length > 0 ? w.whole.pair : w.whole.job} date={paperDay(job).toUpperCase()} />;
  return (
    <>
      <PaperHead job={job} title={jobTitle(job)} sub={w.sub} stamp={stamp} aside={job.technician ? `${papersWords.technician}: ${job.technician}` : ''} />
      <Boxes
        boxes={[
          [papersWords.job, job.number],
          [papersWords.owner, job.owner],
          [papersWords.in, dayText(job.received_on)],
          [papersWords.out, dayText(job.handed_over_on)],
          [papersWords.wanted, job.wanted],
        ]}
      />
      <p class="paper-summary">
        <Rich text={summaryText(job, view.summary)} />
      </p>
      <RecordTable job={job} view={view} />
      <p class="paper-note">{papersWords.plusMinus}</p>
      {plots.length > 1 && <RecordCurves job={job} plots={plots} />}
      <div class="paper-columns flow">
        {plots.length === 1 && <RecordCurves job={job} plots={plots} />}
        <Lines title={w.done} lines={doneLines(job)} />
        <Lines title={w.notDone} lines={notDoneLines(job, view)} />
        <Lines title={w.failed} lines={failedLines(job, view)} />
        <Lines title={w.unproven} lines={unprovenLines(job, view)} />
        <Lines title={w.byHand} lines={handLines(job, view)} />
        {shown.refused && <Lines title={w.refused} lines={refusedLines(job, view)} />}
        {shown.care && (
          <Lines title={w.cautions} lines={careLines(job)}>
            <p class="fill-in">
              {w.next} <span />
            </p>
          </Lines>
        )}
        {shown.method && (
          <Lines title={w.method} lines={methodLines(job, view)}>
            <Conditions job={job} view={view} />
          </Lines>
        )}
      </div>
      {shown.photos && <RecordPhotos job={job} />}
      <SignHere who={papersWords.signed(job.workshop)} />
      <TearOff job={job} view={view} stamp={stamp} />
    </>
  );
}

/** Goes into the box: what it is, and the figures that tell whether it has changed. */
function TearOff({ job, view, stamp }: { job: Job; view: PaperView; stamp: preact.JSX.Element }) {
  const paired = view.summary.groups.some((g) => g.parts.length === 2);
  const drivers = view.summary.groups.filter((g) => g.kind === 'driver').slice(0, 2);
  return (
    <footer class="tear-off">
      <span class="hole-mark" aria-hidden="true" />
      <div>
        <b class="serif">{jobTitle(job)}</b>
        <p>{w.label(job.number, paperDay(job))}</p>
        <p>{paired ? w.keep : w.keepOne}</p>
      </div>
      {drivers.map((group) => (
        <LabelFigures key={group.parts.join()} group={group} view={view} />
      ))}
      {stamp}
    </footer>
  );
}

function LabelFigures({ group, view }: { group: GroupSummary; view: PaperView }) {
  return (
    <dl>
      {['f_s_hz', 'r_e_ohm'].map((name) => {
        const values = group.parts.flatMap((part) => figuresOf(view, part)?.lines.find((l) => l.name === name)?.left ?? []).map((s) => figureText(name, s.figure));
        if (values.length === 0) return null;
        return (
          <div key={name}>
            <dt>
              {group.band} <Rich text={called(name)} />
              {group.parts.length === 2 && `, ${w.left} ${w.and} ${w.right}`}
            </dt>
            <dd>{values.join('; ')}</dd>
          </div>
        );
      })}
    </dl>
  );
}
