// What goes into the store as a whole, and what else only job files ask of it.
import type { Job } from '../core/types.gen';
import { indexed, writing } from '../store/database';
import type { StoredChannel } from '../store/samples';
import { store as kept, StoreProblem, type KeptPhoto, type KeptReading, type KeptTake, type Store } from '../store/store';

/** What comes in from a file, to be written as a whole. */
export interface Arrival {
  job: Job;
  /** When the job that lies here, and that `job` was made with, was last changed; none where none lies here. */
  madeWith: number | undefined;
  readings: KeptReading[];
  takes: { about: KeptTake; channels: StoredChannel[] }[];
  photos: KeptPhoto[];
  /** What lies here already, perhaps deleted: it comes back. `note`: what the other copy's note says; it is added. */
  again: { kind: 'readings' | 'takes' | 'photos'; id: string; note?: string }[];
}

/** Writes everything that came in a file, or nothing. A job that was changed here in the meantime fails as `changed`. */
export function arrive({ job, madeWith, readings, takes, photos, again }: Arrival, store: Store = kept): Promise<void> {
  return store.with(async (db) => {
    const write = writing(db, ['jobs', 'readings', 'takes', 'samples', 'photos']);
    const done = write.done.catch((error: unknown) => error ?? new StoreProblem('failed'));
    try {
      const jobs = write.objectStore('jobs');
      const earlier = await jobs.get(job.id);
      if (earlier?.changedAt !== madeWith) throw new StoreProblem('changed');
      const { deletedAt: _gone, ...rest } = earlier ?? { id: job.id, createdAt: Date.now() };
      await jobs.put({ ...rest, changedAt: Date.now(), job });
      for (const reading of readings) await write.objectStore('readings').add(indexed(reading));
      for (const { about, channels } of takes) {
        await write.objectStore('takes').add(about);
        await write.objectStore('samples').add({ id: about.id, channels });
      }
      for (const photo of photos) await write.objectStore('photos').add(photo);
      for (const { kind, id, note } of again) {
        const entry = await write.objectStore(kind).get(id);
        if (!entry) throw new StoreProblem('changed');
        const adds = note && 'note' in entry && !entry.note.includes(note);
        if (entry.deletedAt === undefined && !adds) continue;
        delete entry.deletedAt;
        if (adds) entry.note = [entry.note, note].filter(Boolean).join('\n');
        await (write.objectStore(kind) as { put(value: unknown): Promise<unknown> }).put(entry);
      }
    } catch (error) {
      // A failed request has aborted it already, and then says why.
      try {
        write.abort();
      } catch {
        const why = await done;
        throw error instanceof StoreProblem ? error : (why ?? error);
      }
      await done;
      throw error;
    }
    const failed = await done;
    if (failed) throw failed;
  });
}

/** The job was saved as a file just now. */
export function markExported(id: string): Promise<void> {
  return kept.with(async (db) => {
    const write = writing(db, ['jobs']);
    const jobs = write.objectStore('jobs');
    const job = await jobs.get(id);
    await Promise.all([job && jobs.put({ ...job, exportedAt: Date.now() }), write.done]);
  });
}

/** The samples of a take as they lie in the store; none where there are none. */
export const storedSamples = (id: string): Promise<StoredChannel[] | undefined> => kept.with(async (db) => (await db.get('samples', id))?.channels);

/** How many there are of each, deleted ones included; no entry is read. */
export function counts(): Promise<{ jobs: number; readings: number; takes: number }> {
  return kept.with(async (db) => {
    const [jobs, readings, takes] = await Promise.all([db.count('jobs'), db.count('readings'), db.count('takes')]);
    return { jobs, readings, takes };
  });
}
