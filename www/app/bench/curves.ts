// Columns of a reading's curves. A reading that came out of the store or a file may hold plain lists instead of arrays.
import type { Reading } from '../core/types.gen';

export function columns(reading: Reading, curve: string): Record<string, ArrayLike<number>> | undefined {
  return reading.curves[curve];
}

export function column(reading: Reading, curve: string, name: string): ArrayLike<number> | undefined {
  return reading.curves[curve]?.[name];
}
