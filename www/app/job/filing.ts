// Readings filed under the parts of a job.
import type { Conditions, Filed, Phase } from '../core/types.gen';
import { jobById, saveJob, withPart, type Job } from './jobs';
import type { KeptReading, Place } from './keeping';

export const NO_CONDITIONS: Conditions = { temperature_c: null, level_v: null, rest_min: null, attitude: null, break_in_h: null };

/** What the reading itself knows of its conditions. */
export function conditionsOf(kept: KeptReading): Conditions {
  const temperature = kept.setup['air_temperature_c'];
  return { ...NO_CONDITIONS, temperature_c: typeof temperature === 'number' ? temperature : null };
}

export function filed(job: Job, part: string, kept: KeptReading, phase: Phase): Job {
  const entry: Filed = { reading: kept.id, phase, conditions: conditionsOf(kept), note: kept.note, at_ms: Date.now() };
  return withPart(job, part, (p) => ({ ...p, filed: [...p.filed.filter((f) => f.reading !== kept.id), entry] }));
}

/** The phase that a new reading most likely belongs to: that of the latest reading, until the part came back. */
export function likelyPhase(job: Job, partId: string): Phase {
  const part = job.parts.find((p) => p.id === partId);
  const last = part?.filed[part.filed.length - 1]?.phase ?? 'as_found';
  return part?.order.returned_on && last === 'as_found' ? 'returned' : last;
}

/** Files a reading that came of a check begun from a job. A job that is gone leaves it among the kept readings. */
export async function fileAt({ job: id, part }: Place, kept: KeptReading): Promise<void> {
  const job = await jobById(id);
  if (!job?.parts.some((p) => p.id === part)) return;
  await saveJob(filed(job, part, kept, likelyPhase(job, part)));
}
