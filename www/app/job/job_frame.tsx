// What the screens of a job have in common: the job is fetched, changes are undone, a missing one is said.
import type { ComponentChildren } from 'preact';
import { StateMark } from '../ui/marks';
import { jobWords as w } from '../words/job';
import { NotThere } from './not_there';
import { useJob, type OpenJob } from './use_job';

export function JobFrame({ id, children }: { id: string; children: (open: OpenJob) => ComponentChildren }) {
  const open = useJob(id);
  if (open === undefined) return null;
  return open === 'missing' ? <NotThere title={w.missing} help={w.missingHelp} /> : <>{children(open)}</>;
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
