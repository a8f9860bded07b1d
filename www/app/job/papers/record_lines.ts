// What the record lists in lines: done, not done, failed, not proven, set by hand, refused, how it was measured.
import type { Job, Summary } from '../../core/types.gen';
import { jobWords } from '../../words/job';
import { papersWords } from '../../words/papers';
import { partName } from '../part_words';
import { titleOf } from '../../bench/kept_screen';
import { cellsOf, type PaperView } from './load';
import { dayAt, namesOf, whyNot } from './texts';

const w = papersWords.record;

/** What the technician wrote, and what came back from the specialist with what it was made of. */
export function doneLines(job: Job): string[] {
  const lines = [...job.done.filter((line) => line.trim()), ...renewedLines(job)];
  return lines.length > 0 ? lines : [w.notListed];
}

function renewedLines(job: Job): string[] {
  const alike = new Map<string, string[]>();
  for (const { id, order } of job.parts) {
    const work = [order.work, order.surround, order.roll].filter((text) => text.trim()).join(', ');
    if (order.wanted && order.returned_on && work) alike.set(work, [...(alike.get(work) ?? []), id]);
  }
  return [...alike].map(([work, ids]) => w.renewed(namesOf(job, ids), work));
}

/** Checks in one state, told once for all their parts. */
function byCheck(items: Summary['items'], state: string): [string, string[]][] {
  const found = new Map<string, string[]>();
  for (const item of items) if (item.state === state) found.set(item.check, [...(found.get(item.check) ?? []), item.part]);
  return [...found];
}

export function notDoneLines(job: Job, { summary }: PaperView): string[] {
  const missing = byCheck(summary.items, 'to_do').map(([check, parts]) => w.notTaken(jobWords.checks[check as keyof typeof jobWords.checks], namesOf(job, parts)));
  return [...job.not_done, ...missing];
}

function against(job: Job, view: PaperView, states: string[]): string[] {
  // Both of a pair carry the same match: it is told once.
  const told = new Set<string>();
  return view.summary.items
    .filter((item) => states.includes(item.state) && !item.by_hand)
    .flatMap((item) => {
      const cell = cellsOf(view, item.part).find((c) => c.check === item.check);
      if (!cell) return [];
      const why = whyNot(cell);
      const group = view.summary.groups.find((g) => g.parts.includes(item.part));
      const parts = item.check === 'match' && group ? group.parts : [item.part];
      const line = w.unprovenLine(namesOf(job, parts), jobWords.checks[item.check], why);
      if (told.has(line)) return [];
      told.add(line);
      return [line];
    });
}

export const failedLines = (job: Job, view: PaperView): string[] => against(job, view, ['fail']);
export const unprovenLines = (job: Job, view: PaperView): string[] => against(job, view, ['not_proven', 'refused']);

export function handLines(job: Job, view: PaperView): string[] {
  return job.parts.flatMap((part) =>
    cellsOf(view, part.id).flatMap((cell) => {
      const said = cell.set_aside;
      if (!said) return [];
      return [w.byHandLine(partName(part), jobWords.checks[cell.check], jobWords.states[cell.state], said.by, said.reason, jobWords.states[cell.measured ?? 'to_do'])];
    }),
  );
}

export function refusedLines(job: Job, { summary, readings }: PaperView): string[] {
  return summary.refused.flatMap((id) => {
    const kept = readings.get(id);
    const part = job.parts.find((p) => p.filed.some((f) => f.reading === id));
    if (!kept || !part) return [];
    return [w.refusedLine(partName(part), titleOf(kept), dayAt(kept.createdAt), kept.reading.refusal?.message ?? '')];
  });
}

/** Each way of measuring that the job holds, once. */
export function methodLines(job: Job, { readings }: PaperView): string[] {
  const checks = [...readings.values()].filter((kept) => kept.reading.outcome !== 'refused').map((kept) => kept.check as string);
  if (job.parts.some((p) => p.coils.length > 0)) checks.push('coil');
  const lines = [...new Set(checks)].flatMap((check) => w.methods[check] ?? []);
  return lines.length > 0 ? [...lines, w.methodTail] : [];
}

/** What the workshop advises, or else what is usual; the cautions always. */
export const careLines = (job: Job): string[] => [...(job.care.some((line) => line.trim()) ? job.care : w.careLines), ...w.cautionLines];
