// From unknown data to plain values of known shape. Every object is built anew, field by field, so that nothing of a
// foreign object lives on; what does not fit is refused with its place.

export class Misfit extends Error {
  constructor(readonly place: string, what: string) {
    super(`${place}: ${what}`);
    this.name = 'Misfit';
  }
}

export type Shape<T> = (value: unknown, place: string) => T;

const TEXT_MOST = 10_000;
const LIST_MOST = 2_000_000;
const FIELDS_MOST = 2_000;
const DEPTH_MOST = 12;
/** What an object may not have as the name of a field: programs take these for something else. */
const FORBIDDEN = new Set(['__proto__', 'constructor', 'prototype']);
export const ID = /^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$/;

export const text =
  (most = TEXT_MOST): Shape<string> =>
  (value, place) => {
    if (typeof value !== 'string' || value.length > most) throw new Misfit(place, `text of at most ${most} characters is wanted`);
    return value;
  };

export const number: Shape<number> = (value, place) => {
  if (typeof value !== 'number' || !Number.isFinite(value)) throw new Misfit(place, 'a number is wanted');
  return value;
};

export const whole =
  (most: number): Shape<number> =>
  (value, place) => {
    if (!Number.isInteger(value) || (value as number) < 0 || (value as number) > most) throw new Misfit(place, `a whole number up to ${most} is wanted`);
    return value as number;
  };

export const id: Shape<string> = (value, place) => {
  if (typeof value !== 'string' || !ID.test(value)) throw new Misfit(place, 'an id is wanted');
  return value;
};

export const moment: Shape<number> = whole(8.64e15);

export const oneOf =
  <T extends string>(...names: T[]): Shape<T> =>
  (value, place) => {
    if (!names.includes(value as T)) throw new Misfit(place, `one of ${names.join(', ')} is wanted`);
    return value as T;
  };

export const nullable =
  <T>(shape: Shape<T>): Shape<T | null> =>
  (value, place) =>
    value === null ? null : shape(value, place);

export const list =
  <T>(shape: Shape<T>, most = LIST_MOST): Shape<T[]> =>
  (value, place) => {
    if (!Array.isArray(value) || value.length > most) throw new Misfit(place, 'a list is wanted');
    return value.map((item, i) => shape(item, `${place}[${i}]`));
  };

/** Any names, one shape of value. */
export const named =
  <T>(shape: Shape<T>): Shape<Record<string, T>> =>
  (value, place) => {
    const fields = fieldsOf(value, place);
    return Object.fromEntries(fields.map(([name, field]) => [name, shape(field, `${place}.${name}`)]));
  };

/** Exactly these fields; those in `optional` may be missing. */
export function record<T, O extends object = object>(shapes: { [K in keyof T]: Shape<T[K]> }, optional: { [K in keyof O]-?: Shape<NonNullable<O[K]>> } = {} as never): Shape<T & O> {
  return (value, place) => {
    const fields = new Map(fieldsOf(value, place));
    const out: [string, unknown][] = [];
    for (const [name, shape] of Object.entries(shapes) as [string, Shape<unknown>][]) {
      if (!fields.has(name)) throw new Misfit(`${place}.${name}`, 'is missing');
      out.push([name, shape(fields.get(name), `${place}.${name}`)]);
    }
    for (const [name, shape] of Object.entries(optional) as [string, Shape<unknown>][]) {
      if (fields.has(name)) out.push([name, shape(fields.get(name), `${place}.${name}`)]);
    }
    const known = out.length;
    if (fields.size > known) throw new Misfit(place, 'holds a field that is not known here');
    return Object.fromEntries(out) as T & O;
  };
}

/** Whatever JSON can hold, within bounds. */
export function anything(value: unknown, place: string, depth = 0): unknown {
  if (depth > DEPTH_MOST) throw new Misfit(place, 'lies too deep');
  if (value === null || typeof value === 'boolean') return value;
  if (typeof value === 'number') return number(value, place);
  if (typeof value === 'string') return text()(value, place);
  if (Array.isArray(value)) return list((item, at) => anything(item, at, depth + 1))(value, place);
  return named((item, at) => anything(item, at, depth + 1))(value, place);
}

export const object: Shape<Record<string, unknown>> = (value, place) => named((item, at) => anything(item, at, 1))(value, place);

function fieldsOf(value: unknown, place: string): [string, unknown][] {
  if (value === null || typeof value !== 'object' || Array.isArray(value)) throw new Misfit(place, 'an object is wanted');
  const fields = Object.entries(value);
  if (fields.length > FIELDS_MOST) throw new Misfit(place, 'holds too many fields');
  if (fields.some(([name]) => FORBIDDEN.has(name) || name.length > 200)) throw new Misfit(place, 'holds a name that cannot be');
  return fields;
}
