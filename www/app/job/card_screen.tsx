// The card of a job: what came in, from whom, what is asked, its parts, what was done.
import { useState } from 'preact/hooks';
import type { Job, Part, PartKind } from '../core/types.gen';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, LinesEntry, Select, TextEntry } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { href } from '../ui/route';
import { jobWords } from '../words/job';
import { JobFrame, SavedNote, Undone } from './job_frame';
import { JobLimits } from './job_limits';
import { newPart } from './jobs';
import { loadBench, saveBench } from './keeping';
import { jobTitle, partName } from './part_words';
import type { OpenJob } from './use_job';

const w = jobWords.card;

export const CardScreen = ({ id }: { id: string }) => <JobFrame id={id}>{(open) => <Shown open={open} />}</JobFrame>;

function Shown({ open }: { open: OpenJob }) {
  const { job, change } = open;
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const text = (name: 'title' | 'number' | 'owner' | 'wanted' | 'specialist' | 'received_on' | 'handed_over_on') => ({ text: job[name], onText: (value: string) => change((now) => ({ ...now, [name]: value })) });
  const ofWorkshop = (name: 'workshop' | 'technician') => ({
    text: job[name],
    onText: (value: string) => {
      change((now) => ({ ...now, [name]: value }));
      // The next job begins with it.
      void loadBench().then((bench) => saveBench({ ...bench, [name]: value }));
    },
  });
  const lines = (name: 'done' | 'not_done' | 'care') => ({ text: job[name].join('\n'), onText: (value: string) => change((now) => ({ ...now, [name]: value === '' ? [] : value.split('\n') })), help: w.lines });
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={href('job', [job.id])} backLabel={w.back} boxes={{ job: jobTitle(job), check: w.title }} />
            <div class="card-body">
              <h1 ref={heading} tabIndex={-1}>
                {w.title}
              </h1>
              <Undone open={open} />
              <div class="fields">
                <TextEntry label={w.name} help={w.nameHelp} {...text('title')} />
                <TextEntry label={w.number} {...text('number')} />
                <TextEntry label={w.owner} help={w.ownerHelp} {...text('owner')} />
                <TextEntry label={w.wanted} {...text('wanted')} />
                <TextEntry label={w.received} day {...text('received_on')} />
                <TextEntry label={w.handedOver} day {...text('handed_over_on')} />
                <TextEntry label={w.workshop} {...ofWorkshop('workshop')} />
                <TextEntry label={w.technician} {...ofWorkshop('technician')} />
                <TextEntry label={w.specialist} {...text('specialist')} />
              </div>
              <Parts open={open} />
              <JobLimits open={open} />
              <div class="fields">
                <LinesEntry label={w.done} {...lines('done')} />
                <LinesEntry label={w.notDone} {...lines('not_done')} />
                <LinesEntry label={w.care} {...lines('care')} />
              </div>
            </div>
          </>
        }
        stub={
          <>
            <Button kind="main" href={href('job', [job.id])}>
              {w.back}
            </Button>
            <SavedNote open={open} />
          </>
        }
      />
    </Page>
  );
}

const KINDS = Object.keys(jobWords.kinds) as PartKind[];

function Parts({ open: { job, change } }: { open: OpenJob }) {
  const [kind, setKind] = useState<PartKind>('driver');
  const [band, setBand] = useState('');
  const add = (parts: Part[]) => {
    change((now) => ({ ...now, parts: [...now.parts, ...parts] }));
    setBand('');
  };
  const of = { kind, band: band.trim() };
  return (
    <section aria-labelledby="parts">
      <h2 id="parts">{w.parts}</h2>
      {job.parts.length === 0 && <p class="note">{w.noParts}</p>}
      <ul class="part-rows">
        {job.parts.map((part) => (
          <PartRow key={part.id} job={job} part={part} change={change} />
        ))}
      </ul>
      <div class="fields">
        <Select label={w.kind} options={KINDS.map((id) => ({ id, label: jobWords.kinds[id] }))} value={kind} onChange={(id) => setKind(id as PartKind)} />
        <TextEntry label={w.band} help={w.bandHelp} text={band} onText={setBand} />
      </div>
      <div class="buttons across">
        <Button kind="plain" onPress={() => add([newPart({ ...of, side: 'left' }), newPart({ ...of, side: 'right' })])}>
          {w.addPair}
        </Button>
        <Button kind="quiet" onPress={() => add([newPart(of)])}>
          {w.addOne}
        </Button>
      </div>
    </section>
  );
}

function PartRow({ job, part, change }: { job: Job; part: Part; change: OpenJob['change'] }) {
  const name = partName(part);
  return (
    <li>
      <a href={href('job', [job.id, 'part', part.id])}>
        <b>{name}</b>
      </a>{' '}
      <span class="note">{[jobWords.kinds[part.kind], part.model, part.mark].filter(Boolean).join(', ')}</span>
      <button type="button" class="text-button" aria-label={`${w.removePart}: ${name}`} onClick={() => change((now) => ({ ...now, parts: now.parts.filter((p) => p.id !== part.id) }), w.removed(name))}>
        {w.removePart}
      </button>
    </li>
  );
}
