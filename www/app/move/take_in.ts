// What was opened from a job file goes into the store: all of it or nothing, and nothing that lies there is lost. A job that
// lies there already becomes one with it; what bears the id of something else gets another one.
import { core } from '../core/client';
import type { Job } from '../core/types.gen';
import type { StoredChannel } from '../store/samples';
import { newId, store, StoreProblem, type KeptReading } from '../store/store';
import { arrive, storedSamples, type Arrival } from './arrival';
import type { Opened } from './job_file';
import { plainJson } from './shapes';

export interface TakenIn {
  id: string;
  job: Job;
  /** Readings, takes and photos that lay here already. */
  there: number;
  /** Whose id belonged to something else here. */
  twins: number;
  /** Fields that say something else in the other copy; more than before. */
  conflicts: number;
}

const TRIES = 3;

export async function takeIn(opened: Opened): Promise<TakenIn> {
  for (let n = 1; ; n++) {
    try {
      return await once(opened);
    } catch (error) {
      if (!(error instanceof StoreProblem && error.code === 'changed' && n < TRIES)) throw error;
    }
  }
}

async function once(opened: Opened): Promise<TakenIn> {
  const arrival: Arrival = { job: opened.job, madeWith: undefined, readings: [], takes: [], photos: [], again: [] };
  const renamed = new Map<string, string>();
  for (const take of opened.takes) {
    const { id } = take.about;
    if (!(await store.find('takes', id))) arrival.takes.push(take);
    else if (await sameSamples(id, take.channels)) arrival.again.push({ kind: 'takes', id });
    else arrival.takes.push({ ...take, about: { ...take.about, id: another(renamed, id) } });
  }
  for (const photo of opened.photos) {
    const here = await store.find('photos', photo.id);
    if (!here) arrival.photos.push(photo);
    else if (sameBytes(here.data, photo.data)) arrival.again.push({ kind: 'photos', id: photo.id });
    else arrival.photos.push({ ...photo, id: another(renamed, photo.id) });
  }
  for (const reading of opened.readings) {
    const its = { ...reading, takes: reading.takes.map((use) => ({ ...use, id: renamed.get(use.id) ?? use.id })) };
    const here = await store.find('readings', reading.id);
    if (!here) arrival.readings.push(its);
    else if (essence(here) === essence(its)) arrival.again.push({ kind: 'readings', id: reading.id, note: reading.note });
    else arrival.readings.push({ ...its, id: another(renamed, reading.id) });
  }
  const job = renamed.size > 0 ? withIds(opened.job, renamed) : opened.job;
  const here = await store.find('jobs', job.id);
  arrival.madeWith = here?.changedAt;
  arrival.job = here ? await core.mergeJobs(JSON.stringify(here.job), JSON.stringify(job)) : job;
  await arrive(arrival);
  return { id: job.id, job: arrival.job, there: arrival.again.length, twins: renamed.size, conflicts: arrival.job.conflicts.length - (here?.job.conflicts.length ?? opened.job.conflicts.length) };
}

function another(renamed: Map<string, string>, id: string): string {
  const next = newId();
  renamed.set(id, next);
  return next;
}

function withIds(job: Job, renamed: Map<string, string>): Job {
  const to = (id: string) => renamed.get(id) ?? id;
  const parts = job.parts.map((part) => ({
    ...part,
    photos: part.photos.map(to),
    looks: part.looks.map((look) => ({ ...look, photos: look.photos.map(to) })),
    filed: part.filed.map((f) => ({ ...f, reading: to(f.reading) })),
  }));
  return { ...job, parts };
}

/** What makes two readings the same: not their name or note, which a person may change. */
function essence({ check, takes, setup, reading }: KeptReading): string {
  return plainJson([check, sorted(takes), sorted(setup), sorted(reading)]);
}

/** Fields by name: their order means nothing. */
function sorted(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(sorted);
  if (value === null || typeof value !== 'object' || ArrayBuffer.isView(value)) return value;
  const fields = Object.entries(value).sort(([a], [b]) => (a < b ? -1 : 1));
  return Object.fromEntries(fields.map(([name, field]) => [name, sorted(field)]));
}

async function sameSamples(id: string, channels: StoredChannel[]): Promise<boolean> {
  const here = await storedSamples(id);
  return here !== undefined && here.length === channels.length && here.every((c, i) => c.coding === channels[i]!.coding && sameBytes(c.data, channels[i]!.data));
}

function sameBytes(a: ArrayBuffer, b: ArrayBuffer): boolean {
  if (a.byteLength !== b.byteLength) return false;
  const [x, y] = [new Uint8Array(a), new Uint8Array(b)];
  return x.every((byte, i) => byte === y[i]);
}
