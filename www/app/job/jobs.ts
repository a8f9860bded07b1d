// Jobs as they are kept in this browser: made, changed, taken off the list and brought back. Where the browser keeps
// nothing, memory holds them until the page is closed (see keeping.ts).
import { core } from '../core/client';
import type { Job, Part } from '../core/types.gen';
import { newId, store, type KeptJob, type KeptPhoto } from '../store/store';
import { orMemory } from './keeping';

export type { KeptJob, KeptPhoto } from '../store/store';

const memory = { jobs: new Map<string, KeptJob>(), photos: new Map<string, KeptPhoto>() };
/** Of the record that this page writes; src/job/record.rs. */
const VERSION = 2;

export function newJob(changes: Partial<Job> = {}): Job {
  const now = Date.now();
  return {
    version: VERSION,
    id: newId(),
    number: '',
    title: '',
    owner: '',
    wanted: '',
    technician: '',
    workshop: '',
    specialist: '',
    received_on: '',
    handed_over_on: '',
    parts: [],
    pair_limits: [],
    done: [],
    not_done: [],
    care: [],
    shown: { curves: true, before_and_after: true, refused: true, method: true, photos: false, care: true },
    created_at_ms: now,
    changed_at_ms: now,
    conflicts: [],
    ...changes,
  };
}

export function newPart(changes: Partial<Part> = {}): Part {
  return {
    id: newId(),
    kind: 'driver',
    side: 'none',
    band: '',
    model: '',
    mark: '',
    rated_impedance_ohm: null,
    order: { wanted: false, work: '', surround: '', roll: '', leave_cap: true, sent_on: '', returned_on: '' },
    references: [],
    looks: [],
    coils: [],
    filed: [],
    overrides: [],
    photos: [],
    note: '',
    ...changes,
  };
}

/** All jobs that are not deleted, the last changed first. */
export async function listJobs(): Promise<KeptJob[]> {
  const kept = await orMemory(() => store.list('jobs'), () => []);
  const all = [...memory.jobs.values(), ...kept].sort((a, b) => b.changedAt - a.changedAt);
  return Promise.all(all.map(async (one) => ({ ...one, job: await ofToday(one.job) })));
}

/** A record that an earlier version of the page kept, as this one writes it. */
const ofToday = async (job: Job): Promise<Job> => (job.version === VERSION ? job : core.readJob(JSON.stringify(job)));

export async function jobById(id: string): Promise<Job | undefined> {
  const kept = memory.jobs.get(id) ?? (await orMemory<KeptJob | undefined>(() => store.get('jobs', id), () => undefined));
  return kept?.deletedAt === undefined ? kept && ofToday(kept.job) : undefined;
}

/** Writes the job; when the promise is kept, it lies in the store. */
export async function saveJob(job: Job): Promise<Job> {
  const saved = { ...job, changed_at_ms: Date.now() };
  await orMemory(
    () => store.keepJob(saved),
    () => void memory.jobs.set(saved.id, { id: saved.id, createdAt: saved.created_at_ms, changedAt: saved.changed_at_ms, job: saved }),
  );
  return saved;
}

/** Takes a job off the list; its readings stay. Answers what brings it back. */
export async function removeJob(id: string): Promise<() => Promise<void>> {
  const held = memory.jobs.get(id);
  if (held) {
    memory.jobs.delete(id);
    return async () => void memory.jobs.set(id, held);
  }
  await store.delete('jobs', id);
  return () => store.undelete('jobs', id);
}

export async function keepPhoto(data: ArrayBuffer, width: number, height: number): Promise<string> {
  return orMemory(
    async () => (await store.keepPhoto(data, width, height)).id,
    () => {
      const id = newId();
      memory.photos.set(id, { id, createdAt: Date.now(), data, width, height });
      return id;
    },
  );
}

export const photoById = async (id: string): Promise<KeptPhoto | undefined> =>
  memory.photos.get(id) ?? (await orMemory<KeptPhoto | undefined>(() => store.get('photos', id), () => undefined));

/** The member of the job that has the same kind and band on the other side. */
export function partnerOf(job: Job, part: Part): Part | undefined {
  if (part.side === 'none') return undefined;
  return job.parts.find((p) => p.id !== part.id && p.kind === part.kind && p.band === part.band && p.side !== 'none' && p.side !== part.side);
}

/** The job with one part changed. */
export function withPart(job: Job, id: string, change: (part: Part) => Part): Job {
  return { ...job, parts: job.parts.map((p) => (p.id === id ? change(p) : p)) };
}

export type { Job, Part };
