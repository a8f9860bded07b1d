// The papers of a job, and which of them an address names: job/ID/papers, …/order, …/letter, …/record.
import { Page, Sheet, Slip } from '../../ui/card';
import { Button } from '../../ui/controls';
import { useTitle } from '../../ui/focus';
import { href } from '../../ui/route';
import { papersWords as w } from '../../words/papers';
import { JobFrame } from '../job_frame';
import { jobTitle } from '../part_words';
import type { OpenJob } from '../use_job';
import { LetterPaper } from './letter';
import { OrderPaper } from './order';
import { RecordPaper } from './record';
import type { PaperName } from './sheet';

const PAPERS: Record<PaperName, ({ open }: { open: OpenJob }) => preact.JSX.Element | null> = { order: OrderPaper, letter: LetterPaper, record: RecordPaper };

export const isPaper = (name: string | undefined): name is PaperName | 'papers' => name === 'papers' || (name !== undefined && name in PAPERS);

export function PapersScreen({ id, name }: { id: string; name: PaperName | 'papers' }) {
  const Shown = name === 'papers' ? Index : PAPERS[name];
  return <JobFrame id={id}>{(open) => <Shown open={open} />}</JobFrame>;
}

function Index({ open: { job } }: { open: OpenJob }) {
  const heading = useTitle<HTMLHeadingElement>(`${w.title}, ${jobTitle(job)}`);
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
              <p>{w.about}</p>
              <ul class="paper-list">
                {(Object.keys(PAPERS) as PaperName[]).map((name) => (
                  <li key={name}>
                    <a href={href('job', [job.id, name])}>{w.list[name].title}</a>
                    <span class="note">{w.list[name].about}</span>
                  </li>
                ))}
              </ul>
            </div>
          </>
        }
        stub={
          <Button kind="main" href={href('job', [job.id])}>
            {w.back}
          </Button>
        }
      />
    </Page>
  );
}
