// The database: which stores there are and what lies in them. Its name is our own, as some browsers share one database
// among all pages opened from files.
import { openDB, type DBSchema, type IDBPDatabase, type IDBPTransaction, type StoreNames } from 'idb';
import type { SessionFacts } from '../audio/facts';
import type { Happening, Job, Reading, Stimulus, TakeUse } from '../core/types.gen';
import { typed } from './problems';
import type { StoredChannel } from './samples';

/** Where samples came from. */
export type Source = 'live' | 'practice' | 'recording';

/** The practice driver and fault behind a take or reading. */
export interface PracticeOrigin {
  driver: string;
  fault: string;
  seed: number;
}

/** The part of a job that a check was begun for. */
export interface Place {
  job: string;
  part: string;
}

/** A take without its samples, as lists need it. */
export interface KeptTake {
  id: string;
  /** Milliseconds since 1970. */
  createdAt: number;
  check: string;
  role: string;
  partName: string;
  source: Source;
  rateHz: number;
  channelCount: number;
  frames: number;
  /** What the samples cost in the store. */
  bytes: number;
  resistor_ohm: number | null;
  load_ohm: number | null;
  added_mass_kg: number | null;
  /** Missing in takes of earlier versions. */
  box_volume_m3?: number | null;
  stimulus?: Stimulus;
  practice?: PracticeOrigin;
  fileName?: string;
  facts?: SessionFacts;
  deletedAt?: number;
}

export interface KeptReading {
  id: string;
  createdAt: number;
  check: string;
  partName: string;
  note: string;
  source: Source;
  /** In the order in which they were read, with what was connected and what was set aside. */
  takes: TakeUse[];
  /** The setup without its takes, as the core takes it. */
  setup: Record<string, unknown>;
  reading: Reading;
  /** For the index: ids of `takes`. */
  takeIds?: string[];
  practice?: PracticeOrigin;
  place?: Place;
  deletedAt?: number;
}

/** A check under way: replaying its happenings leads back to where it stood. */
export interface KeptRun {
  id: string;
  createdAt: number;
  changedAt: number;
  check: string;
  partName: string;
  source: Source;
  /** What the procedure was started with. */
  bench: Record<string, unknown>;
  history: Happening[];
  practice?: PracticeOrigin;
  place?: Place;
  deletedAt?: number;
}

/** A job; its readings lie among the readings, its photos among the photos. */
export interface KeptJob {
  id: string;
  createdAt: number;
  changedAt: number;
  job: Job;
  /** When it was last saved as a file. */
  exportedAt?: number;
  deletedAt?: number;
}

/** A photo, already made small. */
export interface KeptPhoto {
  id: string;
  createdAt: number;
  /** JPEG. */
  data: ArrayBuffer;
  width: number;
  height: number;
  deletedAt?: number;
}

type ByDeletion = { deletedAt: number };

export interface Schema extends DBSchema {
  takes: { key: string; value: KeptTake; indexes: ByDeletion };
  samples: { key: string; value: { id: string; channels: StoredChannel[] } };
  readings: { key: string; value: KeptReading; indexes: ByDeletion & { createdAt: number; takeIds: string } };
  runs: { key: string; value: KeptRun; indexes: ByDeletion };
  jobs: { key: string; value: KeptJob; indexes: ByDeletion };
  photos: { key: string; value: KeptPhoto; indexes: ByDeletion };
  settings: { key: string; value: unknown };
}

export type Database = IDBPDatabase<Schema>;

export const DATABASE_NAME = 'conewright-bench-store';
/** 2: jobs and photos. 3: lists that need not be read whole. */
const VERSION = 3;

/** What is listed, deleted and brought back in the same way. */
export const KINDS = ['takes', 'readings', 'runs', 'jobs', 'photos'] as const;

/** The reading with the ids of its takes where an index finds them. */
export const indexed = (reading: KeptReading): KeptReading => ({ ...reading, takeIds: reading.takes.map((take) => take.id) });

export function openDatabase(name: string): Promise<Database> {
  return typed(() =>
    openDB<Schema>(name, VERSION, {
      async upgrade(db, from, _to, change) {
        if (from < 1) {
          for (const kind of ['takes', 'samples', 'readings', 'runs'] as const) db.createObjectStore(kind, { keyPath: 'id' });
          db.createObjectStore('settings');
        }
        if (from < 2) for (const kind of ['jobs', 'photos'] as const) db.createObjectStore(kind, { keyPath: 'id' });
        if (from < 3) {
          for (const kind of KINDS) change.objectStore(kind).createIndex('deletedAt', 'deletedAt');
          const readings = change.objectStore('readings');
          readings.createIndex('createdAt', 'createdAt');
          readings.createIndex('takeIds', 'takeIds', { multiEntry: true });
          for (let at = await readings.openCursor(); at; at = await at.continue()) await at.update(indexed(at.value));
        }
      },
      // A newer page in another tab wants to change the stores: let it.
      blocking: (_current, _blocked, event) => (event.target as IDBDatabase).close(),
    }),
  );
}

/** A write that counts as done when it lies on the disk, not when the browser has heard of it. */
export const writing = <N extends StoreNames<Schema>>(db: Database, stores: N[]): IDBPTransaction<Schema, N[], 'readwrite'> => db.transaction(stores, 'readwrite', { durability: 'strict' });
