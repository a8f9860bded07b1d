// What all papers share: the sheet with its head, the stub with the button, boxes, lists, the place to sign.
import type { ComponentChildren } from 'preact';
import type { CellState, Job, Verdict } from '../../core/types.gen';
import { Page, Sheet, Slip } from '../../ui/card';
import { Button } from '../../ui/controls';
import { useTitle } from '../../ui/focus';
import { href } from '../../ui/route';
import { Rich } from '../../ui/symbol';
import { jobWords } from '../../words/job';
import { papersWords as w } from '../../words/papers';
import { SavedNote, Undone } from '../job_frame';
import { jobTitle } from '../part_words';
import { CellMark } from '../state_marks';
import type { OpenJob } from '../use_job';

export type PaperName = keyof typeof w.list;

interface Props {
  open: OpenJob;
  name: PaperName;
  children: ComponentChildren;
  /** For the hand, above the button. */
  stub?: ComponentChildren;
  /** Below the paper, on the screen only. */
  below?: ComponentChildren;
}

export function PaperSheet({ open, name, children, stub, below }: Props) {
  const { job } = open;
  const { title } = w.list[name];
  const heading = useTitle<HTMLHeadingElement>(`${title}, ${jobTitle(job)}`);
  return (
    <Page kind="check paper">
      <Sheet
        card={
          <>
            <div class="no-print">
              <Slip back={href('job', [job.id, 'papers'])} backLabel={w.title} boxes={{ job: jobTitle(job), check: title }} />
              <h1 class="unheard" ref={heading} tabIndex={-1}>
                {title}
              </h1>
            </div>
            <div class={`paper-body ${name}`}>{children}</div>
            {below && <div class="card-body no-print">{below}</div>}
          </>
        }
        stub={
          <>
            <Button kind="main" onPress={() => window.print()}>
              {w.print}
            </Button>
            <Undone open={open} />
            {stub}
            <Button kind="quiet" href={href('job', [job.id])}>
              {w.back}
            </Button>
            <SavedNote open={open} />
          </>
        }
        stubLabel={w.stub}
      />
    </Page>
  );
}

export function PaperHead({ job, title, sub, stamp, aside }: { job: Job; title: string; sub: string; stamp?: ComponentChildren; aside?: string }) {
  return (
    <>
      <p class="paper-head">
        <b class="serif">{job.workshop || w.workshop}</b>
        <span>{aside}</span>
      </p>
      <div class="paper-title">
        <div>
          <h2>{title}</h2>
          <p>{sub}</p>
        </div>
        {stamp}
      </div>
    </>
  );
}

/** Boxes of a form; an empty one is left out. */
export function Boxes({ boxes }: { boxes: [string, string][] }) {
  return (
    <dl class="paper-boxes">
      {boxes
        .filter(([, value]) => value.trim() !== '')
        .map(([label, value]) => (
          <div key={label}>
            <dt>{label}</dt>
            <dd>
              <Rich text={value} />
            </dd>
          </div>
        ))}
    </dl>
  );
}

export function Lines({ title, lines, children }: { title: string; lines: string[]; children?: ComponentChildren }) {
  const shown = lines.filter((line) => line.trim() !== '');
  if (shown.length === 0 && !children) return null;
  return (
    <section>
      <h3>{title}</h3>
      {shown.length > 0 && (
        <ul class="dashes">
          {shown.map((line, i) => (
            <li key={i}>
              <Rich text={line} />
            </li>
          ))}
        </ul>
      )}
      {children}
    </section>
  );
}

/** Mark of a verdict and what is said beside it: its word, unless something fuller holds it. */
export function Said({ state, word }: { state: CellState | Verdict; word?: string }) {
  return (
    <span class="said-mark">
      <CellMark state={state} size={14} /> <span>{word ?? jobWords.states[state]}</span>
    </span>
  );
}

export function SignHere({ who, second }: { who: string; second?: string }) {
  return (
    <p class="sign-here">
      <span>{who}</span>
      {second && <span>{second}</span>}
      <span>{w.record.signature}</span>
    </p>
  );
}

/** Whose value it is, where the rows are unfolded for want of width. */
export const SideName = ({ name }: { name: string }) => <span class="side-name">{name}: </span>;
