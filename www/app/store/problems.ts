// What can go wrong with the store, by code. The sentences stand in ../words/store-problems.ts.

export type StoreProblemCode = 'full' | 'unavailable' | 'not_there' | 'newer_version' | 'changed' | 'failed';

export class StoreProblem extends Error {
  readonly code: StoreProblemCode;
  /** What the browser said. */
  readonly reason: unknown;
  constructor(code: StoreProblemCode, reason?: unknown) {
    super(code);
    this.name = 'StoreProblem';
    this.code = code;
    this.reason = reason;
  }
}

/** What a failure of the browser's database means. */
export function storeProblemOf(error: unknown): StoreProblem {
  if (error instanceof StoreProblem) return error;
  const name = (error as { name?: string } | null)?.name ?? '';
  if (name === 'QuotaExceededError') return new StoreProblem('full', error);
  if (name === 'VersionError') return new StoreProblem('newer_version', error);
  if (name === 'SecurityError' || name === 'InvalidStateError' || name === 'ReferenceError') return new StoreProblem('unavailable', error);
  // An aborted write carries the reason inside, and some engines give nothing else when the disk is full.
  const inner = (error as { inner?: unknown } | null)?.inner;
  return inner ? storeProblemOf(inner) : new StoreProblem('failed', error);
}

/** Runs `work`; whatever fails in it fails as a `StoreProblem`. */
export async function typed<T>(work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    throw storeProblemOf(error);
  }
}
