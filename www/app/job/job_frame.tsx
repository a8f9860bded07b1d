// What the screens of a job have in common: the job is fetched, changes are undone, a missing one is said.
import type { ComponentChildren } from 'preact';
import { Page, Sheet } from '../ui/card';
import { Button } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { StateMark } from '../ui/marks';
import { href } from '../ui/route';
import { jobWords as w } from '../words/job';
import { readingWords } from '../words/reading';
import { useJob, type OpenJob } from './use_job';

export function JobFrame({ id, children }: { id: string; children: (open: OpenJob) => ComponentChildren }) {
  const open = useJob(id);
  if (open === undefined) return null;
  return open === 'missing' ? <NotThere title={w.missing} help={w.missingHelp} /> : <>{children(open)}</>;
}

export function NotThere({ title, help }: { title: string; help: string }) {
  const heading = useTitle<HTMLHeadingElement>(title);
  return (
    <Page kind="check">
      <Sheet
        card={
          <div class="card-body">
            <h1 ref={heading} tabIndex={-1}>
              {title}
            </h1>
            <p>{help}</p>
            <Button kind="main" href={href('')}>
              {readingWords.start}
            </Button>
          </div>
        }
      />
    </Page>
  );
}

/** What was changed last, with the way back. */
export function Undone({ open }: { open: OpenJob }) {
  return (
    <div role="status">
      {open.undone && (
        <p class="list-said said">
          <StateMark name="empty" /> <span>{open.undone.said}</span>
          <button type="button" class="text-button" onClick={open.undone.undo}>
            {w.undo}
          </button>
        </p>
      )}
    </div>
  );
}

export const SavedNote = ({ open }: { open: OpenJob }) => (
  <p class="note" data-saved={open.saved}>
    {open.saved ? w.saved : w.saving}
  </p>
);
