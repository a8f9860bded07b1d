// A job: the grid of its checks and what comes next.
import type { ComponentChildren } from 'preact';
import type { Job, Next } from '../core/types.gen';
import { Page, Slip } from '../ui/card';
import { Button } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { href } from '../ui/route';
import { checkWords } from '../words/check';
import { jobWords as w } from '../words/job';
import { Grid } from './grid';
import { JobFrame, Undone } from './job_frame';
import { Conflicts } from '../move/conflicts';
import { useOverview } from './overview';
import { jobTitle, partName } from './part_words';
import type { OpenJob } from './use_job';

export const JobScreen = ({ id }: { id: string }) => <JobFrame id={id}>{(open) => <Shown open={open} />}</JobFrame>;

function Shown({ open }: { open: OpenJob }) {
  const { job } = open;
  const heading = useTitle<HTMLHeadingElement>(jobTitle(job));
  const view = useOverview(job);
  const boxes: [string, string][] = [];
  if (job.received_on) boxes.push([w.grid.boxes.since, dayText(job.received_on)]);
  if (view) boxes.push([w.grid.boxes.checks, w.grid.counts(view.overview.done, view.overview.of)]);
  if (job.wanted) boxes.push([w.grid.boxes.wanted, job.wanted]);
  return (
    <Page kind="check">
      <div class="sheet whole job">
        <div class="card cut">
          <Slip back={href('')} backLabel={checkWords.back} boxes={{ job: job.number || jobTitle(job) }} />
          <div class="job-head">
            <h1 ref={heading} tabIndex={-1}>
              {jobTitle(job)}
            </h1>
            <dl class="job-boxes">
              {boxes.map(([label, value]) => (
                <div key={label}>
                  <dt>{label}</dt>
                  <dd>{value}</dd>
                </div>
              ))}
            </dl>
            <p class="acts">
              <a class="text-button" href={href('job', [job.id, 'card'])}>
                {w.card.open}
              </a>
              <a class="text-button" href={href('files', [job.id])}>
                {w.reminder.save}
              </a>
              <a class="text-button not-on-wide" href={href('job', [job.id, 'papers'])}>
                {w.next.print}
              </a>
            </p>
          </div>
          <Undone open={open} />
          <Conflicts open={open} />
          {job.parts.length === 0 ? <p class="list-empty">{w.grid.noParts}</p> : view && <Grid job={job} overview={view.overview} />}
        </div>
        <div class="tear job-foot">
          <div class="perforation flat" aria-hidden="true" />
          <aside class="stub" aria-label={w.next.title}>
            {view && <WhatNext job={job} next={view.overview.next} />}
          </aside>
        </div>
      </div>
    </Page>
  );
}

function WhatNext({ job, next }: { job: Job; next: Next | null }) {
  const part = job.parts.find((p) => p.id === next?.part);
  let said: ComponentChildren;
  if (next && part) {
    said = (
      <>
        <p class="next-step">
          <span class="marked">{w.next.what(partName(part), w.checks[next.check])}</span>
        </p>
        <p class="note">{w.next.why[next.why]}</p>
      </>
    );
  } else if (job.parts.length > 0) {
    said = (
      <>
        <p class="next-step">{w.next.allDone}</p>
        <p class="note">{w.next.allDoneHelp}</p>
      </>
    );
  }
  return (
    <div class="what-next">
      <div>
        <h2>{w.next.title}</h2>
        {said}
      </div>
      <div class="buttons across">
        {next && part ? (
          <Button kind="main" href={href('job', [job.id, 'part', part.id], { check: next.check })}>
            {w.next.start}
          </Button>
        ) : (
          job.parts.length === 0 && (
            <Button kind="main" href={href('job', [job.id, 'card'])}>
              {w.card.open}
            </Button>
          )
        )}
        {job.parts.length > 0 && (
          <span class="only-wide-inline">
            <Button kind="plain" href={href('job', [job.id, 'papers'])}>
              {w.next.print}
            </Button>
          </span>
        )}
      </div>
    </div>
  );
}

/** A day as people write it; as typed where it is none. */
export function dayText(day: string): string {
  const date = new Date(`${day}T12:00:00`);
  return Number.isNaN(date.getTime()) ? day : date.toLocaleDateString('en-GB', { day: 'numeric', month: 'short', year: 'numeric' });
}
