// Takes, readings and the bench as they are kept in this browser. Where the browser keeps nothing, memory holds them
// until the page is closed, and the page says so: nothing that was recorded is lost to a full or closed store.
import type { MeterAccuracy, PageTake, Reading } from '../core/types.gen';
import { store, StoreProblem, type KeptReading, type KeptRun, type NewReading, type NewTake, type Persistence } from '../store/store';
import { fileAt } from './filing';
import type { Item } from './offers';

export type { KeptReading, KeptRun, Place } from '../store/store';

export interface MyBench {
  /** For the cards and papers of new jobs. */
  workshop?: string;
  technician?: string;
  /** What was ticked as at hand. */
  items?: Item[];
  seriesResistorOhm?: number;
  /** Between amplifier and driver, where a microphone listens. */
  closeResistorOhm?: number;
  tolerancePercent?: number;
  output?: 'headphones' | 'amplifier';
  sourceChannel?: number;
  oneChannel?: number;
  knockChannel?: number;
  /** Two drivers at once: the input of the first one. */
  firstChannel?: number;
  socket?: 'line' | 'microphone' | 'headset';
  inputResistanceOhm?: number;
  meter?: string;
  meterClass?: 'hand' | 'better' | 'bench' | 'coarse' | 'own';
  meterAccuracy?: MeterAccuracy;
  /** Limits of the error of its ohms range. */
  ohmsMeter?: { percent: number; ohm: number };
  meterAcross?: 'resistor' | 'both';
  inputDevice?: { id: string; label: string };
  outputDevice?: { id: string; label: string };
  /** By the label of an input: whether it turns signals upside down. */
  inputInverts?: Record<string, boolean>;
}

const memory = { takes: new Map<string, PageTake>(), readings: new Map<string, KeptReading>(), bench: undefined as MyBench | undefined };
let trouble: StoreProblem | undefined;
let count = 0;

/** Why the store does not keep, if so. */
export const keepingTrouble = () => trouble;

export async function orMemory<T>(work: () => Promise<T>, instead: () => T): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (!(error instanceof StoreProblem)) throw error;
    if (error.code !== 'not_there') trouble = error;
    return instead();
  }
}

/** Keeps a finished take at once; answers its id. */
export function keepTake(take: PageTake, about: NewTake): Promise<string> {
  return orMemory(
    async () => (await store.keepTake(take, about)).id,
    () => {
      const id = `memory-${++count}`;
      memory.takes.set(id, take);
      return id;
    },
  );
}

/** Keeps a reading; one that was taken for a part of a job is filed there. */
export async function keepReading(reading: NewReading): Promise<KeptReading> {
  const kept = await orMemory(
    () => store.keepReading(reading),
    () => {
      const kept = { ...reading, id: `memory-${++count}`, createdAt: Date.now() };
      memory.readings.set(kept.id, kept);
      return kept;
    },
  );
  if (kept.place) await fileAt(kept.place, kept);
  return kept;
}

export async function listReadings(): Promise<KeptReading[]> {
  const kept = await orMemory(() => store.list('readings'), () => []);
  return [...memory.readings.values(), ...kept].sort((a, b) => b.createdAt - a.createdAt);
}

/** The newest readings, at most so many, and how many there are. */
export async function latestReadings(most: number): Promise<{ list: KeptReading[]; of: number }> {
  const kept = await orMemory(() => store.latestReadings(most), () => ({ list: [], of: 0 }));
  const list = [...memory.readings.values(), ...kept.list].sort((a, b) => b.createdAt - a.createdAt);
  return { list, of: memory.readings.size + kept.of };
}

export async function readingById(id: string): Promise<KeptReading | undefined> {
  const held = memory.readings.get(id);
  if (held) return held;
  const kept = await orMemory<KeptReading | undefined>(() => store.get('readings', id), () => undefined);
  return kept?.deletedAt === undefined ? kept : undefined;
}

export async function takeById(id: string): Promise<PageTake | undefined> {
  return memory.takes.get(id) ?? (await orMemory<PageTake | undefined>(() => store.samples(id), () => undefined));
}

/** Deletes a reading and those of its takes that no other reading uses. Answers what brings them back. */
export async function removeReading(kept: KeptReading): Promise<() => Promise<void>> {
  const held = memory.readings.get(kept.id);
  if (held) {
    memory.readings.delete(kept.id);
    return async () => void memory.readings.set(held.id, held);
  }
  const all = kept.takes.map((t) => t.id);
  const others = await store.usedTakes(all, kept.id);
  const own = all.filter((id) => !others.includes(id) && !memory.takes.has(id));
  await store.delete('readings', kept.id);
  for (const id of own) await store.delete('takes', id);
  return async () => {
    await store.undelete('readings', kept.id);
    for (const id of own) await store.undelete('takes', id);
  };
}

/** Gives the part of a reading and of its takes another name. */
export async function renameReading(kept: KeptReading, partName: string): Promise<void> {
  const held = memory.readings.get(kept.id);
  if (held) return void memory.readings.set(held.id, { ...held, partName });
  await store.rename('readings', kept.id, { partName });
  for (const { id } of kept.takes) await orMemory(() => store.rename('takes', id, { partName }), () => undefined);
}

/** Takes that no reading was made from and no check under way needs: level searches, takes that were taken again. */
export async function looseTakes(): Promise<{ ids: string[]; bytes: number }> {
  return orMemory(async () => {
    const [takes, used, runs] = await Promise.all([store.list('takes'), store.takesOfReadings(), store.list('runs')]);
    for (const run of runs) for (const h of run.history) if (h.kind === 'took') used.add(h.take.id);
    const loose = takes.filter((t) => !used.has(t.id));
    return { ids: loose.map((t) => t.id), bytes: loose.reduce((sum, t) => sum + t.bytes, 0) };
  }, () => ({ ids: [], bytes: 0 }));
}

/** Deletes takes. Answers what brings them back. */
export async function removeTakes(ids: string[]): Promise<() => Promise<void>> {
  for (const id of ids) await store.delete('takes', id);
  return async () => {
    for (const id of ids) await store.undelete('takes', id);
  };
}

/** Keeps a check under way, so that it can go on another day; only what the store cannot keep is lost with the page. */
export const keepRun = (run: KeptRun): Promise<void> => orMemory(() => store.keepRun(run), () => undefined);

/** A check that came to its end is no longer under way. */
export const endRun = (id: string): Promise<void> => orMemory(() => store.delete('runs', id), () => undefined);
export const listRuns = (): Promise<KeptRun[]> => orMemory(() => store.list('runs'), () => []);
export const runById = (id: string): Promise<KeptRun | undefined> => orMemory<KeptRun | undefined>(() => store.get('runs', id), () => undefined);

/** Deletes a check under way with those of its takes that no reading uses. Answers what brings them back. */
export async function removeRun(run: KeptRun): Promise<() => Promise<void>> {
  const took = run.history.flatMap((h) => (h.kind === 'took' ? [h.take.id] : []));
  const used = await store.usedTakes(took);
  const own = took.filter((id) => !used.includes(id));
  await store.delete('runs', run.id);
  for (const id of own) await store.delete('takes', id);
  return async () => {
    await store.undelete('runs', run.id);
    for (const id of own) await store.undelete('takes', id);
  };
}

/** What was deleted long ago goes for good, and the browser is asked to keep the rest. */
export async function tidy(): Promise<void> {
  await orMemory(async () => {
    await store.purge();
    if ((await store.sizes()).takes > 0) await store.askToPersist();
  }, () => undefined);
}

/** Whether the browser has agreed to keep everything; none where it was never asked or cannot be. */
export const persistence = (): Promise<Persistence | undefined> => orMemory<Persistence | undefined>(() => store.persistence(), () => undefined);

export async function keptBytes(): Promise<number> {
  const held = [...memory.takes.values()].reduce((sum, t) => sum + t.channels.reduce((s, c) => s + c.byteLength, 0), 0);
  return held + (await orMemory(async () => (await store.sizes()).sampleBytes, () => 0));
}

export async function loadBench(): Promise<MyBench> {
  return memory.bench ?? (await orMemory(async () => (await store.readSetting<MyBench>('bench')) ?? {}, () => ({})));
}

export async function saveBench(bench: MyBench): Promise<void> {
  memory.bench = bench;
  await orMemory(() => store.keepSetting('bench', bench), () => undefined);
}

export type { Reading };
