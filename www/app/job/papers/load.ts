// What the papers of a job are written from: the overview, its sum, and the kept readings.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../../core/client';
import type { Cell, Job, Part, PartFigures, Summary } from '../../core/types.gen';
import { jobReading, viewOf, type JobView } from '../overview';

export interface PaperView extends JobView {
  summary: Summary;
}

export function usePaper(job: Job): PaperView | undefined {
  const [view, setView] = useState<PaperView>();
  // Texts of the card change neither verdicts nor figures.
  const key = JSON.stringify([job.parts, job.pair_limits]);
  useEffect(() => {
    let current = true;
    const load = async () => {
      const seen = await viewOf(job);
      const readings = [...seen.readings.values()].map(jobReading);
      const summary = await core.jobSummary({ job, readings });
      if (current) setView({ ...seen, summary });
    };
    const wait = setTimeout(() => void load(), view ? 200 : 0);
    return () => {
      current = false;
      clearTimeout(wait);
    };
  }, [key]);
  return view;
}

export const partOfId = (job: Job, id: string): Part | undefined => job.parts.find((p) => p.id === id);
export const cellsOf = (view: PaperView, part: string): Cell[] => view.overview.groups.flatMap((g) => g.rows).find((r) => r.part === part)?.cells ?? [];
export const figuresOf = (view: PaperView, part: string): PartFigures | undefined => view.summary.figures.find((f) => f.part === part);

/** Drivers that go out, in their pairs. */
export const groupsOut = (job: Job, view: PaperView): Part[][] =>
  view.summary.groups.map((g) => g.parts.flatMap((id) => partOfId(job, id) ?? []).filter((p) => p.kind === 'driver' && p.order.wanted)).filter((parts) => parts.length > 0);
