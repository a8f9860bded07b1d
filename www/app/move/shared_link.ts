// A reading as a link: everything stands in the fragment, which no browser sends to a server. Figures and warnings are
// whole; budgets are left out; curves keep as many rows as fit: the first, the last, then again and again the row that lies
// farthest off the straight lines drawn so far, so that peaks and misses stay. Their numbers have five significant digits.
import { deflateSync, inflateSync } from 'fflate';
import type { Figure, Notice, Reading } from '../core/types.gen';
import type { KeptReading } from '../store/store';
import { list, Misfit, moment, named, nullable, number, object, oneOf, record, text, whole, type Shape } from './plain';
import { check, curves, notice } from './shapes';

/** Up to here a link gets through nearly everything that carries text; beyond it the page says so. */
export const LINK_MOST = 8000;
/** No link of this page's own making is longer. */
const TEXT_MOST = 200_000;
const UNPACKED_MOST = 2_000_000;
/** Rows of a curve, tried in turn until the link is short enough. */
const ROWS = [160, 120, 90, 60, 40];
const DIGITS = 5;
const VERSION = 1;
const SUM_SIGNS = 8;

export type LinkProblemCode = 'bad' | 'newer';
export class LinkProblem extends Error {
  constructor(readonly code: LinkProblemCode) {
    super(code);
    this.name = 'LinkProblem';
  }
}

/** What a link holds of a kept reading. */
export type Shared = Pick<KeptReading, 'check' | 'partName' | 'createdAt' | 'source' | 'setup' | 'reading'>;

interface Packed {
  v: number;
  part: string;
  at: number;
  source: KeptReading['source'];
  setup: Record<string, unknown>;
  reading: Omit<Reading, 'values' | 'alongside' | 'curves'> & { values: Record<string, Short>; alongside: Record<string, Short>; curves: Reading['curves'] };
}
/** Value, standard uncertainty, half-width, and the reason where there is none. */
interface Short {
  v: number;
  u: number | null;
  h: number | null;
  r: string | null;
}

/** What the name of a check depends on; the rest of a setup is of no use without the takes. */
const OF_SETUP = ['sensor', 'method'];

/** The part of an address behind `#/shared/`. */
export async function packReading(kept: Shared): Promise<string> {
  let packed = '';
  for (const rows of ROWS) {
    packed = await packText(JSON.stringify(packable(kept, rows), plain));
    if (packed.length <= LINK_MOST) break;
  }
  return packed;
}

function packable({ partName, createdAt, source, setup, reading }: Shared, rows: number): Packed {
  const short = (figures: Record<string, Figure>) =>
    Object.fromEntries(Object.entries(figures).map(([name, f]): [string, Short] => [name, { v: f.value, u: f.standard_uncertainty, h: f.half_width_95, r: f.reason }]));
  const thin = Object.fromEntries(Object.entries(reading.curves).map(([name, columns]) => [name, thinned(columns, rows)]));
  const own = Object.fromEntries(Object.entries(setup).filter(([name]) => OF_SETUP.includes(name)));
  return { v: VERSION, part: partName, at: createdAt, source, setup: own, reading: { ...reading, values: short(reading.values), alongside: short(reading.alongside), curves: thin } };
}

type Columns = Reading['curves'][string];

/** Rows from..to, the row between that lies farthest off the straight line, and how far. */
interface Run {
  from: number;
  to: number;
  at: number;
  off: number;
}

/** Exported for the tests. */
export function thinned(columns: Columns, rows: number): Columns {
  const names = Object.keys(columns);
  const length = columns[names[0] ?? '']?.length ?? 0;
  if (length <= rows) return columns;
  const drawn = names.filter((name) => !/^(frequency_hz|time_s)$|uncertainty/.test(name)).map((name) => scaled(columns[name]!));
  const runs = [farthest(drawn, 0, length - 1)];
  while (runs.length < rows - 1) {
    const worst = runs.reduce((a, b) => (b.off > a.off ? b : a));
    runs.splice(runs.indexOf(worst), 1, farthest(drawn, worst.from, worst.at), farthest(drawn, worst.at, worst.to));
  }
  const kept = [0, ...runs.map((run) => run.to)];
  return Object.fromEntries(names.map((name) => [name, Float64Array.from(kept, (i) => columns[name]![i]!)]));
}

/** As shares of the range, so that all columns count alike. */
function scaled(values: Float64Array): Float64Array {
  const [low, high] = values.reduce(([a, b], v) => [Math.min(a, v), Math.max(b, v)], [Infinity, -Infinity]);
  return values.map((v) => (high > low ? (v - low) / (high - low) : 0));
}

function farthest(drawn: Float64Array[], from: number, to: number): Run {
  // Among rows that all lie on the line the middle one counts, so that no run is left whole.
  const run = { from, to, at: (from + to) >> 1, off: to - from > 1 ? 0 : -1 };
  for (const values of drawn) {
    const slope = (values[to]! - values[from]!) / (to - from);
    for (let i = from + 1; i < to; i++) {
      const off = Math.abs(values[i]! - values[from]! - slope * (i - from));
      if (off > run.off) Object.assign(run, { at: i, off });
    }
  }
  return run;
}

function plain(_name: string, value: unknown): unknown {
  if (ArrayBuffer.isView(value)) return Array.from(value as unknown as number[], (n) => (Number.isFinite(n) ? Number(n.toPrecision(DIGITS)) : null));
  return value;
}

async function packText(json: string): Promise<string> {
  const data = base64(deflateSync(new TextEncoder().encode(json), { level: 9 }));
  return `${await sumOf(data)}${data}`;
}

/** What a link holds; any that is not whole fails as a `LinkProblem`. */
export async function unpackReading(packed: string): Promise<Shared> {
  const value = await unpackText(packed);
  try {
    return sharedOf(value);
  } catch (error) {
    throw error instanceof Misfit ? new LinkProblem('bad') : error;
  }
}

async function unpackText(packed: string): Promise<unknown> {
  const data = packed.slice(SUM_SIGNS);
  if (packed.length > TEXT_MOST || !/^[A-Za-z0-9_-]+$/.test(packed) || (await sumOf(data)) !== packed.slice(0, SUM_SIGNS)) throw new LinkProblem('bad');
  try {
    // No more comes out than there is room for, whatever is packed into it.
    const bytes = inflateSync(fromBase64(data), { out: new Uint8Array(UNPACKED_MOST) });
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    throw new LinkProblem('bad');
  }
}

const short: Shape<Short> = record<Short>({ v: number, u: nullable(number), h: nullable(number), r: nullable(text(2000)) });
const packedShape: Shape<Packed> = record<Packed>({
  v: whole(VERSION),
  part: text(400),
  at: moment,
  source: oneOf('live', 'practice', 'recording'),
  setup: object,
  reading: record<Packed['reading']>({
    schema: whole(1),
    check,
    outcome: oneOf('reading', 'doubtful', 'refused'),
    values: named(short),
    alongside: named(short),
    chosen: named(text(2000)) as Shape<Reading['chosen']>,
    curves,
    warnings: list(notice, 100) as Shape<Notice[]>,
    refusal: nullable(notice),
    computed_with: record<Reading['computed_with']>({ version: text(80), method: text(2000) }),
  }),
});

function sharedOf(value: unknown): Shared {
  const { v } = (value ?? {}) as { v?: unknown };
  if (typeof v === 'number' && v > VERSION) throw new LinkProblem('newer');
  const { part, at, source, setup, reading } = packedShape(value, 'link');
  const whole = (figures: Record<string, Short>) =>
    Object.fromEntries(Object.entries(figures).map(([name, f]): [string, Figure] => [name, { value: f.v, standard_uncertainty: f.u, half_width_95: f.h, reason: f.r, budget: [] }]));
  return { check: reading.check, partName: part, createdAt: at, source, setup, reading: { ...reading, values: whole(reading.values), alongside: whole(reading.alongside) } };
}

/** Tells a link that was cut off or mistyped from a whole one. */
async function sumOf(data: string): Promise<string> {
  const sum = new Uint8Array(await crypto.subtle.digest('SHA-256', new TextEncoder().encode(data)));
  return base64(sum).slice(0, SUM_SIGNS);
}

function base64(bytes: Uint8Array): string {
  let binary = '';
  for (const byte of bytes) binary += String.fromCharCode(byte);
  return btoa(binary).replaceAll('+', '-').replaceAll('/', '_').replace(/=+$/, '');
}

function fromBase64(text: string): Uint8Array {
  const binary = atob(text.replaceAll('-', '+').replaceAll('_', '/'));
  return Uint8Array.from(binary, (sign) => sign.charCodeAt(0));
}
