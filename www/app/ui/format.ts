// Numbers as people read and type them. Drawing and rounding only; nothing is measured here.

/** Between a number and its unit. */
export const NBSP = '\u00a0';
const MINUS = '\u2212';

/** A fixed number of decimals; negative decimals round to tens and hundreds. Minus is a real minus. */
export function fixed(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return '\u2013';
  const step = 10 ** Math.max(-decimals, 0);
  const text = decimals >= 0 ? value.toFixed(decimals) : (Math.round(value / step) * step).toFixed(0);
  const isNought = Number(text) === 0;
  return isNought ? text.replace('-', '') : text.replace('-', MINUS);
}

/** About `digits` significant digits, never in powers of ten. */
export function significant(value: number, digits: number): string {
  if (value === 0 || !Number.isFinite(value)) return fixed(value, 0);
  return fixed(value, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
}

/** A count or a limit as set, which has no ± to tell where it ends: four digits at most, no trailing noughts. */
export function asSet(value: number): string {
  const text = significant(value, 4);
  return text.includes('.') ? text.replace(/\.?0+$/, '') : text;
}

/**
 * Decimals at which a figure with this half-width ends. Two digits of the half-width where it begins with 1 or 2
 * (one digit would change it by up to a third), otherwise one; GUM 7.2.6 asks for two at most.
 */
export function decimalsFor(halfWidth: number): number {
  if (!(halfWidth > 0) || !Number.isFinite(halfWidth)) return 3;
  const exponent = Math.floor(Math.log10(halfWidth));
  const lead = halfWidth / 10 ** exponent;
  return lead < 2.95 ? 1 - exponent : -exponent;
}

/** Value and half-width, both ending at the same decimal place. */
export function pair(value: number, halfWidth: number): { value: string; plusMinus: string } {
  const decimals = Math.min(decimalsFor(halfWidth), 9);
  return { value: fixed(value, decimals), plusMinus: fixed(halfWidth, decimals) };
}

/** Value and half-width as they stand in a line, the value alone where there is none; `tail` is the unit with its space. */
export function plusMinus(value: number, halfWidth: number | null | undefined, tail = ''): string {
  if (halfWidth == null) return asSet(value) + tail;
  const shown = pair(value, halfWidth);
  return `${shown.value}${NBSP}±${NBSP}${shown.plusMinus}${tail}`;
}

/** What may be wrong with a typed number. */
export type EntryFault = 'empty' | 'letter_o' | 'not_a_number' | 'too_low' | 'too_high';

/** Reads a typed number; comma and dot are both a decimal mark. */
export function parseEntry(text: string): { value: number } | { fault: EntryFault } {
  const plain = text.replace(/[\s\u00a0\u202f]/g, '').replace(',', '.').replace(MINUS, '-');
  if (plain === '') return { fault: 'empty' };
  if (/^[+-]?[\d.]*o[\do.]*$/i.test(plain)) return { fault: 'letter_o' };
  if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain)) return { fault: 'not_a_number' };
  return { value: Number(plain) };
}

/** A number for an entry box, without tails of binary noise. */
export function forEntry(value: number): string {
  return String(Number(value.toPrecision(6)));
}

/** Hertz on an axis: 1 k from a thousand on. */
export function axisHertz(value: number): string {
  return value >= 1000 ? `${value / 1000}${NBSP}k` : String(value);
}

/** Bytes, for what is kept. */
export function bytes(count: number): string {
  if (count < 1e6) return `${fixed(Math.ceil(count / 1e3), 0)}${NBSP}kB`;
  if (count >= 1e9) return `${fixed(count / 1e9, 1)}${NBSP}GB`;
  return `${fixed(count / 1e6, count < 1e7 ? 1 : 0)}${NBSP}MB`;
}
