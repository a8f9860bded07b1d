// A job as a file and back: what belongs to it, entry by entry. Layout in DEVELOPERS.md.
import { core } from '../core/client';
import type { Job, PageTake } from '../core/types.gen';
import { jobById, photoById } from '../job/jobs';
import { readingById, takeById, type KeptReading } from '../job/keeping';
import { encode, type StoredChannel } from '../store/samples';
import { store, type KeptPhoto, type KeptTake } from '../store/store';
import { FileProblem, pack, read, textOf, unpack, type Entries } from './container';
import { keptReading, photoAbout, plainJson, takeAbout, type TakeAbout } from './shapes';

/** What belongs to a job, by id; nothing of it is loaded but the readings. */
export interface Belongings {
  job: Job;
  readings: KeptReading[];
  takes: string[];
  photos: string[];
  /** Named in the job, and no longer here. */
  missing: number;
  /** Before it is packed. */
  bytes: number;
}

const JSON_BYTES_PER_READING = 60_000;

export async function belongingsOf(id: string): Promise<Belongings | undefined> {
  const job = await jobById(id);
  if (!job) return undefined;
  const filed = distinct(job.parts.flatMap((part) => part.filed.map((f) => f.reading)));
  const readings = (await Promise.all(filed.map(readingById))).filter((r) => r !== undefined);
  const takes = distinct(readings.flatMap((r) => r.takes.map((t) => t.id)));
  const photos = distinct(job.parts.flatMap((part) => [...part.photos, ...part.looks.flatMap((look) => look.photos)]));
  const abouts = await Promise.all(takes.map((take) => store.find('takes', take).catch(() => undefined)));
  const bytes = abouts.reduce((sum, about) => sum + (about?.bytes ?? 0), 0) + readings.length * JSON_BYTES_PER_READING + photos.length * 150_000;
  return { job, readings, takes, photos, missing: filed.length - readings.length, bytes };
}

/** The job as a file; `onProgress` hears the share that is packed. */
export async function jobFile(belongings: Belongings, now: number, onProgress: (done: number) => void): Promise<{ file: Blob; missing: number }> {
  let missing = belongings.missing;
  const { job, readings, takes, photos } = belongings;
  const steps = 1 + readings.length + takes.length + photos.length;
  let step = 0;
  async function* entries(): AsyncGenerator<[string, Uint8Array]> {
    yield ['job.json', utf8(JSON.stringify(job, null, 1))];
    for (const reading of readings) {
      const { deletedAt: _deleted, place: _place, takeIds: _ids, ...rest } = reading;
      onProgress(++step / steps);
      yield [`readings/${reading.id}.json`, utf8(plainJson(rest))];
    }
    for (const id of takes) {
      onProgress(++step / steps);
      const take = await takeById(id);
      const about = take && (await aboutTake(id, readings));
      if (!take || !about) missing += 1;
      else {
        yield [`takes/${id}.json`, utf8(plainJson(about))];
        yield [`takes/${id}.wav`, await wavOf(take)];
      }
    }
    for (const id of photos) {
      onProgress(++step / steps);
      const photo = await photoById(id);
      if (!photo) missing += 1;
      else {
        const { createdAt, width, height } = photo;
        yield [`photos/${id}.json`, utf8(JSON.stringify({ id, createdAt, width, height }))];
        yield [`photos/${id}.jpg`, new Uint8Array(photo.data)];
      }
    }
  }
  return { file: await pack(entries(), now), missing };
}

/** As it is kept; a take that memory holds is described by the reading that was made from it. */
async function aboutTake(id: string, readings: KeptReading[]): Promise<TakeAbout | undefined> {
  const kept = await store.find('takes', id).catch(() => undefined);
  if (kept) {
    const { bytes: _b, rateHz: _r, channelCount: _c, frames: _f, deletedAt: _d, ...about } = kept;
    return about;
  }
  const reading = readings.find((r) => r.takes.some((t) => t.id === id));
  const use = reading?.takes.find((t) => t.id === id);
  if (!reading || !use) return undefined;
  const { role, resistor_ohm, load_ohm, added_mass_kg, box_volume_m3 } = use;
  return { id, createdAt: reading.createdAt, check: reading.check, role, partName: reading.partName, source: reading.source, resistor_ohm, load_ohm, added_mass_kg, box_volume_m3 };
}

/** Two bytes a sample where all of them lie on that grid, else four; none is changed. */
const wavOf = (take: PageTake): Promise<Uint8Array> => core.writeWav(take, take.channels.every((c) => encode(c).coding === 'int16') ? 'int16' : 'float32');

/** A job file, checked to the last entry; nothing of it is written yet. */
export interface Opened {
  job: Job;
  readings: KeptReading[];
  takes: { about: KeptTake; channels: StoredChannel[] }[];
  photos: KeptPhoto[];
  writtenAt: string;
  bytes: number;
}

export async function openJobFile(file: Blob): Promise<Opened> {
  const { entries, writtenAt } = await unpack(file);
  const job = await core.readJob(jobText(entries));
  const opened: Opened = { job, readings: [], takes: [], photos: [], writtenAt, bytes: 0 };
  for (const [name, data] of entries) {
    const [folder = '', rest = ''] = name.split('/');
    const id = rest.replace(/\.\w+$/, '');
    if (name.endsWith('.json') && folder === 'readings') opened.readings.push(own(read((v) => keptReading(v, name), data, 'damaged'), id, name));
    else if (name.endsWith('.wav') && folder === 'takes') opened.takes.push(await takeOf(entries, id, data));
    else if (name.endsWith('.jpg') && folder === 'photos') opened.photos.push(photoOf(entries, id, data));
    else if (!isBeside(entries, name) && name !== 'job.json') throw new FileProblem('foreign', name);
  }
  checkWhole(opened);
  opened.bytes = opened.takes.reduce((sum, t) => sum + t.about.bytes, 0) + opened.photos.reduce((sum, p) => sum + p.data.byteLength, 0) + opened.readings.length * JSON_BYTES_PER_READING;
  return opened;
}

function jobText(entries: Entries): string {
  try {
    return textOf(entries.get('job.json'));
  } catch {
    throw new FileProblem('damaged', 'job.json');
  }
}

/** What stands about a take or a photo beside it. */
const isBeside = (entries: Entries, name: string) => name.endsWith('.json') && (entries.has(name.replace(/\.json$/, '.wav')) || entries.has(name.replace(/\.json$/, '.jpg')));

function own<T extends { id: string }>(value: T, id: string, name: string): T {
  if (value.id !== id) throw new FileProblem('foreign', name);
  return value;
}

async function takeOf(entries: Entries, id: string, wav: Uint8Array): Promise<Opened['takes'][number]> {
  const about = own(read((v) => takeAbout(v, id), entries.get(`takes/${id}.json`), 'damaged'), id, id);
  const take = await core.readWav(wav).then(
    (found) => found.take,
    (error: unknown) => {
      throw new FileProblem('damaged', `takes/${id}.wav: ${error instanceof Error ? error.message : ''}`);
    },
  );
  const channels = take.channels.map(encode);
  const bytes = channels.reduce((sum, c) => sum + c.data.byteLength, 0);
  return { about: { ...about, rateHz: take.rateHz, channelCount: channels.length, frames: take.channels[0]?.length ?? 0, bytes }, channels };
}

function photoOf(entries: Entries, id: string, jpeg: Uint8Array): KeptPhoto {
  const about = own(read((v) => photoAbout(v, id), entries.get(`photos/${id}.json`), 'damaged'), id, id);
  if (jpeg[0] !== 0xff || jpeg[1] !== 0xd8) throw new FileProblem('damaged', `photos/${id}.jpg`);
  return { ...about, data: jpeg.slice().buffer as ArrayBuffer };
}

/** Readings and photos of this job, takes of these readings, and nothing else. */
function checkWhole({ job, readings, takes, photos }: Opened): void {
  const filed = new Set(job.parts.flatMap((part) => part.filed.map((f) => f.reading)));
  const used = new Set(readings.flatMap((r) => r.takes.map((t) => t.id)));
  const seen = new Set(job.parts.flatMap((part) => [...part.photos, ...part.looks.flatMap((look) => look.photos)]));
  const strange = [...readings.filter((r) => !filed.has(r.id)), ...photos.filter((p) => !seen.has(p.id)), ...takes.map((t) => t.about).filter((t) => !used.has(t.id))];
  if (strange[0]) throw new FileProblem('foreign', strange[0].id);
}

const distinct = (ids: string[]) => [...new Set(ids)];
const utf8 = (text: string) => new TextEncoder().encode(text);
