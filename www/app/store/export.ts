// Readings as CSV and JSON, and how a file is handed to the person. Takes become WAV in the core.
import type { Figure, Notice, Reading } from '../core/types.gen';

type Cell = string | number | null | undefined;
type Row = Cell[];

/** What is known beside the reading itself. */
export interface ReadingOrigin {
  partName: string;
  note: string;
  /** Milliseconds since 1970. */
  createdAt: number;
}

/**
 * RFC 4180: commas, CRLF, quotes where needed, every line with the same number of fields. The first field names the table
 * a line belongs to; a line whose first field is `table` is the header of the next one. Figures come first, curves last.
 */
export function readingCsv(reading: Reading, origin: ReadingOrigin): string {
  const rows = [
    ...figureRows('figures', reading.values),
    ...figureRows('alongside', reading.alongside),
    ...aboutRows(reading, origin),
    ...noticeRows(reading),
    ...Object.entries(reading.curves).flatMap(([name, columns]) => curveRows(name, columns)),
  ];
  return csv(rows);
}

export function csv(rows: Row[]): string {
  const width = Math.max(...rows.map((row) => row.length));
  return rows.map((row) => Array.from({ length: width }, (_, i) => field(row[i])).join(',') + '\r\n').join('');
}

function field(cell: Cell): string {
  const text = cell === null || cell === undefined ? '' : String(cell);
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

function figureRows(table: string, figures: Record<string, Figure>): Row[] {
  const entries = Object.entries(figures);
  if (entries.length === 0) return [];
  const header = ['table', 'name', 'value', 'standard_uncertainty', 'half_width_95', 'reason'];
  return [header, ...entries.map(([name, f]) => [table, name, f.value, f.standard_uncertainty, f.half_width_95, f.reason])];
}

function aboutRows(reading: Reading, origin: ReadingOrigin): Row[] {
  const about: [string, Cell][] = [
    ['part', origin.partName],
    ['note', origin.note],
    ['check', reading.check],
    ['outcome', reading.outcome],
    ['read_at', new Date(origin.createdAt).toISOString()],
    ['version', reading.computed_with.version],
    ['method', reading.computed_with.method],
    ...Object.entries(reading.chosen),
  ];
  return [['table', 'name', 'value'], ...about.map(([name, value]) => ['about', name, value])];
}

function noticeRows(reading: Reading): Row[] {
  const rows: Row[] = reading.warnings.map((notice) => noticeRow('warning', notice));
  if (reading.refusal) rows.unshift(noticeRow('refusal', reading.refusal));
  return rows.length > 0 ? [['table', 'code', 'message', 'remedy'], ...rows] : [];
}

const noticeRow = (table: string, { code, message, remedy }: Notice): Row => [table, code, message, remedy];

function curveRows(name: string, columns: Record<string, ArrayLike<number>>): Row[] {
  const names = Object.keys(columns).sort(firstFirst);
  const length = Math.max(0, ...names.map((n) => columns[n]?.length ?? 0));
  const rows = Array.from({ length }, (_, i) => [name, ...names.map((n) => columns[n]?.[i])]);
  return [['table', ...names], ...rows];
}

/** What a curve runs over stands in front. */
function firstFirst(a: string, b: string): number {
  const rank = (name: string) => (/^(frequency_hz|time_s)$/.test(name) ? 0 : 1);
  return rank(a) - rank(b) || (a < b ? -1 : 1);
}

/** The same document that the headless script prints: curves as plain lists. */
export function readingJson(reading: Reading): string {
  const plain = (_key: string, value: unknown) => (ArrayBuffer.isView(value) ? Array.from(value as unknown as number[]) : value);
  return JSON.stringify(reading, plain, 2) + '\n';
}

/** A file name without signs that systems forbid: `part-check-2026-01-31.csv`. */
export function fileName(parts: string[], createdAt: number, extension: string): string {
  const day = new Date(createdAt).toISOString().slice(0, 10);
  const clean = (text: string) => text.normalize('NFC').replace(/[^\p{L}\p{N}]+/gu, '-').replace(/^-+|-+$/g, '');
  return [...parts.map(clean).filter((p) => p !== ''), day].join('-').slice(0, 100) + '.' + extension;
}

/** Hands a file to the person. */
export function download(name: string, content: BlobPart, type: string): void {
  const url = URL.createObjectURL(new Blob([content], { type }));
  const link = Object.assign(document.createElement('a'), { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  // The download reads the address after the click.
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}
