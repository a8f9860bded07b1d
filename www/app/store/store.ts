// Takes, readings, runs under way and settings, kept in this browser. Every call is a promise that fails as a
// `StoreProblem`. A take is written whole or not at all.
import type { Job, PageTake } from '../core/types.gen';
import { DATABASE_NAME, indexed, KINDS, openDatabase, writing, type Database, type KeptJob, type KeptPhoto, type KeptReading, type KeptRun, type KeptTake } from './database';
import { StoreProblem, typed } from './problems';
import { decode, encode } from './samples';

export type { KeptJob, KeptPhoto, KeptReading, KeptRun, KeptTake, Place, PracticeOrigin, Source } from './database';
export { StoreProblem, type StoreProblemCode } from './problems';

export type Kind = (typeof KINDS)[number];
interface Kinds {
  takes: KeptTake;
  readings: KeptReading;
  runs: KeptRun;
  jobs: KeptJob;
  photos: KeptPhoto;
}

export type NewTake = Omit<KeptTake, 'id' | 'createdAt' | 'rateHz' | 'channelCount' | 'frames' | 'bytes' | 'deletedAt'>;
export type NewReading = Omit<KeptReading, 'id' | 'createdAt' | 'deletedAt'>;

export interface Sizes {
  takes: number;
  readings: number;
  /** Samples of all takes, those deleted but not yet purged included. */
  sampleBytes: number;
  /** As the browser estimates them; some do not. */
  usedBytes: number | undefined;
  quotaBytes: number | undefined;
}

export type Persistence = 'granted' | 'refused' | 'unknown';

interface AskedToPersist {
  answer: Persistence;
  askedAt: number;
}
const ASK_AGAIN_MS = 7 * 24 * 3600 * 1000;

/** So long can a deletion be undone. */
export const UNDO_MS = 24 * 3600 * 1000;

export const newId = (): string => crypto.randomUUID();

export class Store {
  private opened: Promise<Database> | undefined;

  constructor(
    private readonly name = DATABASE_NAME,
    private readonly now: () => number = Date.now,
  ) {}

  /** Writes a finished take at once; answers it with its id and what it costs. */
  keepTake(take: PageTake, about: NewTake): Promise<KeptTake> {
    return this.with(async (db) => {
      const channels = take.channels.map(encode);
      const kept: KeptTake = {
        ...about,
        id: newId(),
        createdAt: this.now(),
        rateHz: take.rateHz,
        channelCount: channels.length,
        frames: take.channels[0]?.length ?? 0,
        bytes: channels.reduce((sum, c) => sum + c.data.byteLength, 0),
      };
      const write = writing(db, ['takes', 'samples']);
      // All three are awaited together, or the abort of one would be an unhandled rejection of the others.
      await Promise.all([
        write.objectStore('samples').add({ id: kept.id, channels }),
        write.objectStore('takes').add(kept),
        write.done,
      ]);
      return kept;
    });
  }

  /** The samples of a take, deleted ones included. */
  samples(id: string): Promise<PageTake> {
    return this.with(async (db) => {
      const [about, stored] = await Promise.all([db.get('takes', id), db.get('samples', id)]);
      if (!about || !stored) throw new StoreProblem('not_there');
      return { rateHz: about.rateHz, channels: stored.channels.map(decode) };
    });
  }

  keepReading(reading: NewReading): Promise<KeptReading> {
    const kept: KeptReading = { ...reading, id: newId(), createdAt: this.now() };
    return this.with(async (db) => {
      await put(db, 'readings', indexed(kept));
      return kept;
    });
  }

  keepRun(run: KeptRun): Promise<void> {
    return this.with(async (db) => put(db, 'runs', { ...run, changedAt: this.now() }));
  }

  /** Writes a job as it is now; a deleted one stays deleted. */
  keepJob(job: Job): Promise<void> {
    return this.with(async (db) => {
      const write = writing(db, ['jobs']);
      const jobs = write.objectStore('jobs');
      const earlier = await jobs.get(job.id);
      const kept: KeptJob = { ...earlier, id: job.id, createdAt: earlier?.createdAt ?? this.now(), changedAt: this.now(), job };
      await Promise.all([jobs.put(kept), write.done]);
    });
  }

  keepPhoto(data: ArrayBuffer, width: number, height: number): Promise<KeptPhoto> {
    const kept: KeptPhoto = { id: newId(), createdAt: this.now(), data, width, height };
    return this.with(async (db) => {
      await put(db, 'photos', kept);
      return kept;
    });
  }

  /** As `get`, deleted ones included; none where it is not there. */
  find<K extends Kind>(kind: K, id: string): Promise<Kinds[K] | undefined> {
    return this.with(async (db) => (await db.get(kind, id)) as Kinds[K] | undefined);
  }

  /** Changes the part's name or the note of something kept. */
  rename(kind: 'takes' | 'readings' | 'runs', id: string, changes: { partName?: string; note?: string }): Promise<void> {
    return this.change(kind, id, (entry) => Object.assign(entry, changes));
  }

  get<K extends Kind>(kind: K, id: string): Promise<Kinds[K]> {
    return this.with(async (db) => {
      const found = (await db.get(kind, id)) as Kinds[K] | undefined;
      if (!found) throw new StoreProblem('not_there');
      return found;
    });
  }

  /** All that are not deleted, the newest first. */
  list<K extends Kind>(kind: K): Promise<Kinds[K][]> {
    return this.with(async (db) => {
      const all = (await db.getAll(kind)) as Kinds[K][];
      return all.filter((e) => e.deletedAt === undefined).sort((a, b) => b.createdAt - a.createdAt);
    });
  }

  /** The newest readings, at most so many, and how many there are; the others are not read. */
  latestReadings(most: number): Promise<{ list: KeptReading[]; of: number }> {
    return this.with(async (db) => {
      const list: KeptReading[] = [];
      const [all, deleted] = await Promise.all([db.count('readings'), db.countFromIndex('readings', 'deletedAt')]);
      const newest = db.transaction('readings').store.index('createdAt');
      for (let at = await newest.openCursor(null, 'prev'); at && list.length < most; at = await at.continue()) if (at.value.deletedAt === undefined) list.push(at.value);
      return { list, of: all - deleted };
    });
  }

  /** Of these takes those that a reading uses, deleted readings and `except` left out. */
  usedTakes(ids: string[], except = ''): Promise<string[]> {
    return this.with(async (db) => {
      const uses = db.transaction('readings').store.index('takeIds');
      const used = await Promise.all(ids.map(async (id) => (await uses.getAll(id)).some((r) => r.deletedAt === undefined && r.id !== except)));
      return ids.filter((_, i) => used[i]);
    });
  }

  /** Takes that any reading uses, by the index alone. */
  takesOfReadings(): Promise<Set<string>> {
    return this.with(async (db) => {
      const found = new Set<string>();
      const uses = db.transaction('readings').store.index('takeIds');
      for (let at = await uses.openKeyCursor(null, 'nextunique'); at; at = await at.continue()) found.add(at.key);
      return found;
    });
  }

  /** Takes it off the lists. `undelete` brings it back until it is purged. */
  delete(kind: Kind, id: string): Promise<void> {
    return this.change(kind, id, (entry) => (entry.deletedAt = this.now()));
  }

  undelete(kind: Kind, id: string): Promise<void> {
    return this.change(kind, id, (entry) => delete entry.deletedAt);
  }

  /** Removes for good what was deleted longer ago than `olderThanMs`. Answers how many. */
  purge(olderThanMs = UNDO_MS): Promise<number> {
    return this.with(async (db) => {
      const write = db.transaction([...KINDS, 'samples'], 'readwrite');
      let count = 0;
      for (const kind of KINDS) {
        const all = write.objectStore(kind) as PurgedStore;
        for (const id of await all.index('deletedAt').getAllKeys(IDBKeyRange.upperBound(this.now() - olderThanMs))) {
          count += 1;
          void all.delete(id);
          if (kind === 'takes') void write.objectStore('samples').delete(id);
        }
      }
      await write.done;
      return count;
    });
  }

  readSetting<T>(key: string): Promise<T | undefined> {
    return this.with(async (db) => (await db.get('settings', key)) as T | undefined);
  }

  keepSetting(key: string, value: unknown): Promise<void> {
    return this.with(async (db) => void (await db.put('settings', value, key)));
  }

  sizes(): Promise<Sizes> {
    return this.with(async (db) => {
      const [takes, readings, deleted, estimate] = await Promise.all([db.getAll('takes'), db.count('readings'), db.countFromIndex('readings', 'deletedAt'), estimateStorage()]);
      return {
        takes: takes.filter((t) => t.deletedAt === undefined).length,
        readings: readings - deleted,
        sampleBytes: takes.reduce((sum, t) => sum + t.bytes, 0),
        usedBytes: estimate?.usage,
        quotaBytes: estimate?.quota,
      };
    });
  }

  /** Asks the browser to keep everything. Some browsers pass the question on to the person, so once a week is enough, unless the person wants it `again`. */
  async askToPersist(again = false): Promise<Persistence> {
    const kept = await this.readSetting<AskedToPersist>('persistence');
    if (kept && !again && (kept.answer === 'granted' || this.now() - kept.askedAt < ASK_AGAIN_MS)) return kept.answer;
    const answer = await persist();
    await this.keepSetting('persistence', { answer, askedAt: this.now() } satisfies AskedToPersist);
    return answer;
  }

  /** The last answer to that; none where it was never asked. */
  async persistence(): Promise<Persistence | undefined> {
    return (await this.readSetting<AskedToPersist>('persistence'))?.answer;
  }

  /** Closes the database; the next call opens it again. */
  async close(): Promise<void> {
    const opened = this.opened;
    this.opened = undefined;
    (await opened?.catch(() => undefined))?.close();
  }

  private change(kind: Kind, id: string, act: (entry: Kinds[Kind]) => unknown): Promise<void> {
    return this.with(async (db) => {
      const write = writing(db, [kind]);
      const all = write.objectStore(kind);
      const entry = await all.get(id);
      if (!entry) throw new StoreProblem('not_there');
      act(entry);
      await Promise.all([all.put(entry), write.done]);
    });
  }

  /** For what a first visit does not need, which stands elsewhere. */
  with<T>(work: (db: Database) => Promise<T>): Promise<T> {
    return typed(async () => work(await this.open()));
  }

  private open(): Promise<Database> {
    this.opened ??= openDatabase(this.name).then((db) => {
      // The browser closes it when data are cleared or a newer page takes over; the next call then opens it anew.
      db.addEventListener('close', () => (this.opened = undefined));
      return db;
    });
    this.opened.catch(() => (this.opened = undefined));
    return this.opened;
  }
}

/** The same for all kinds; the types of five stores at once are more than the compiler unites. */
interface PurgedStore {
  index(name: 'deletedAt'): { getAllKeys(range: IDBKeyRange): Promise<string[]> };
  delete(id: string): Promise<void>;
}

async function put<K extends Kind>(db: Database, kind: K, entry: Kinds[K]): Promise<void> {
  const write = writing(db, [kind]);
  await Promise.all([(write.objectStore(kind) as { put(value: unknown): Promise<unknown> }).put(entry), write.done]);
}

async function estimateStorage(): Promise<StorageEstimate | undefined> {
  return globalThis.navigator?.storage?.estimate?.().catch(() => undefined);
}

async function persist(): Promise<Persistence> {
  const storage = globalThis.navigator?.storage;
  if (!storage?.persist) return 'unknown';
  return (await storage.persist().catch(() => false)) ? 'granted' : 'refused';
}

export const store = new Store();
