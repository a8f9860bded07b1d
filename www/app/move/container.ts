// A job file is a ZIP: `manifest.json` names every other entry with its length and SHA-256. Nothing in it is believed:
// lengths are bounded before anything is unpacked, what is unpacked has the length that was declared, names are few and
// known, sums must agree. Packing and unpacking give the page's thread free between pieces.
import { unzipSync, Zip, ZipDeflate, ZipPassThrough } from 'fflate';
import { list, Misfit, record, text, whole, type Shape } from './plain';

export type FileProblemCode = 'not_a_job_file' | 'newer' | 'too_large' | 'damaged' | 'foreign';

export class FileProblem extends Error {
  constructor(
    readonly code: FileProblemCode,
    readonly detail = '',
  ) {
    super(detail ? `${code}: ${detail}` : code);
    this.name = 'FileProblem';
  }
}

/** Of the container; what lies in `job.json` has a version of its own. */
const VERSION = 1;
const FORMAT = 'conewright job file';
const MANIFEST = 'manifest.json';

/** What a job file can be at most. A take of ten seconds is 4 MB at most, and a job has some dozens of them. */
export const MOST = { file: 600e6, unpacked: 1200e6, entry: 100e6, entries: 4000 } as const;

const NAME = /^(job\.json|(readings|takes|photos)\/[A-Za-z0-9][A-Za-z0-9_-]{0,63}\.(json|wav|jpg))$/;

export type Entries = Map<string, Uint8Array>;

interface Manifest {
  format: string;
  version: number;
  written_at: string;
  entries: { name: string; bytes: number; sha256: string }[];
}

const manifestShape: Shape<Manifest> = record<Manifest>({
  format: text(80),
  version: whole(1e6),
  written_at: text(40),
  entries: list(record<Manifest['entries'][number]>({ name: text(100), bytes: whole(MOST.entry), sha256: text(64) }), MOST.entries),
});

const PIECE = 64 * 1024;
const BATCH = 1e6;

/** Gives way to whatever waits: a press, a frame. */
const breathe = () => new Promise<void>((done) => setTimeout(done, 0));

/** Packs entries, which may be made one by one; answers the file. */
export async function pack(entries: AsyncIterable<[string, Uint8Array]> | Iterable<[string, Uint8Array]>, writtenAt: number): Promise<Blob> {
  const pieces: BlobPart[] = [];
  let failed: Error | undefined;
  const zip = new Zip((error, piece) => {
    if (error) failed = error;
    // Chunks are handed on as they come, so that the whole file never lies in one array.
    else pieces.push(piece as BlobPart);
  });
  const add = async (name: string, data: Uint8Array) => {
    const file = name.endsWith('.jpg') ? new ZipPassThrough(name) : new ZipDeflate(name, { level: 6 });
    file.mtime = new Date(writtenAt);
    zip.add(file);
    for (let at = 0; at < data.length || at === 0; at += PIECE) {
      file.push(data.subarray(at, at + PIECE), at + PIECE >= data.length);
      await breathe();
    }
    if (failed) throw failed;
  };
  const manifest: Manifest = { format: FORMAT, version: VERSION, written_at: new Date(writtenAt).toISOString(), entries: [] };
  for await (const [name, data] of entries) {
    manifest.entries.push({ name, bytes: data.length, sha256: await sha256(data) });
    await add(name, data);
  }
  await add(MANIFEST, new TextEncoder().encode(JSON.stringify(manifest, null, 1)));
  zip.end();
  if (failed) throw failed;
  return new Blob(pieces, { type: 'application/zip' });
}

/** Unpacks a whole job file, every sum checked. */
export async function unpack(file: Blob): Promise<{ entries: Entries; writtenAt: string }> {
  if (file.size > MOST.file) throw new FileProblem('too_large');
  const zip = new Uint8Array(await file.arrayBuffer());
  if (zip[0] !== 0x50 || zip[1] !== 0x4b) throw new FileProblem('not_a_job_file');
  const sizes = listing(zip);
  if (!sizes.has(MANIFEST)) throw new FileProblem('not_a_job_file');
  const manifest = read(manifestOf, inflate(zip, new Set([MANIFEST])).get(MANIFEST), 'damaged');
  const declared = new Map(manifest.entries.map((e) => [e.name, e]));
  if (declared.size !== manifest.entries.length || declared.size !== sizes.size - 1) throw new FileProblem('foreign', 'the list of contents is not that of the file');
  const entries: Entries = new Map();
  for (const batch of batches([...declared.values()])) {
    const found = inflate(zip, new Set(batch.map((e) => e.name)));
    for (const { name, bytes, sha256: sum } of batch) {
      const data = found.get(name);
      if (!data) throw new FileProblem('foreign', `${name} is missing`);
      if (data.length !== bytes || sizes.get(name) !== bytes || (await sha256(data)) !== sum) throw new FileProblem('damaged', name);
      entries.set(name, data);
    }
    await breathe();
  }
  return { entries, writtenAt: manifest.written_at };
}

/** Names and declared lengths; nothing is unpacked for it. */
function listing(zip: Uint8Array): Map<string, number> {
  const sizes = new Map<string, number>();
  let sum = 0;
  guarded(() =>
    unzipSync(zip, {
      filter: ({ name, originalSize, compression }) => {
        sum += originalSize;
        if (sizes.size >= MOST.entries || originalSize > MOST.entry || sum > MOST.unpacked) throw new FileProblem('too_large');
        if ((name !== MANIFEST && !NAME.test(name)) || sizes.has(name) || (compression !== 0 && compression !== 8)) throw new FileProblem('foreign', short(name));
        sizes.set(name, originalSize);
        return false;
      },
    }),
  );
  return sizes;
}

/** An entry comes out no longer than it was declared, whatever is packed into it. */
function inflate(zip: Uint8Array, names: Set<string>): Entries {
  return new Map(Object.entries(guarded(() => unzipSync(zip, { filter: ({ name }) => names.has(name) }))));
}

function guarded<T>(work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw error instanceof FileProblem ? error : new FileProblem('damaged', error instanceof Error ? error.message : '');
  }
}

function manifestOf(value: unknown): Manifest {
  const head = (value ?? {}) as { format?: unknown; version?: unknown };
  if (head.format !== FORMAT) throw new FileProblem('not_a_job_file');
  if (typeof head.version === 'number' && head.version > VERSION) throw new FileProblem('newer');
  return manifestShape(value, 'manifest');
}

/** JSON of an entry in its shape; what does not fit fails as `otherwise`. */
export function read<T>(shape: (value: unknown) => T, data: Uint8Array | undefined, otherwise: FileProblemCode): T {
  try {
    return shape(JSON.parse(textOf(data)));
  } catch (error) {
    if (error instanceof FileProblem) throw error;
    throw new FileProblem(error instanceof Misfit ? 'foreign' : otherwise, error instanceof Error ? error.message : '');
  }
}

export const textOf = (data: Uint8Array | undefined): string => new TextDecoder('utf-8', { fatal: true }).decode(data);

const short = (name: string) => name.slice(0, 40);

function batches<T extends { bytes: number }>(all: T[]): T[][] {
  const out: T[][] = [];
  let room = 0;
  for (const entry of all) {
    if (room < entry.bytes || out.length === 0) {
      out.push([]);
      room = BATCH;
    }
    out[out.length - 1]!.push(entry);
    room -= entry.bytes;
  }
  return out;
}

async function sha256(data: Uint8Array): Promise<string> {
  const sum = new Uint8Array(await crypto.subtle.digest('SHA-256', data as BufferSource));
  return Array.from(sum, (byte) => byte.toString(16).padStart(2, '0')).join('');
}
