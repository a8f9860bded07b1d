// Beside a job: that it lies in this browser only, or has changed since it was saved as a file.
import type { KeptJob } from './jobs';
import { when } from './when';
import { href } from '../ui/route';
import { jobsWords } from '../words/jobs';

const w = jobsWords.reminder;

export function ExportReminder({ kept, title }: { kept: Pick<KeptJob, 'id' | 'changedAt' | 'exportedAt'>; title: string }) {
  if (kept.exportedAt !== undefined && kept.exportedAt >= kept.changedAt) return null;
  return (
    <p class="note export-reminder">
      {kept.exportedAt === undefined ? w.never : w.changed(when(kept.exportedAt))}{' '}
      <a class="text-button" href={href('files', [kept.id])} aria-label={w.saveNamed(title)}>
        {w.save}
      </a>
    </p>
  );
}
