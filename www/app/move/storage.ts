// How much room is left, and whether what was kept is still there. The mark lies outside the database, so that a database
// that was cleared alone is noticed; browsers that clear everything of a page take it with them, and nothing can tell then.
import { counts } from './arrival';

/** Below this the page says so: about 25 takes of ten seconds by two channels of 32 bit. */
export const MARGIN_BYTES = 100e6;
const MARK = 'conewright-kept';

export interface Mark {
  jobs: number;
  readings: number;
}

/** As the browser estimates it; some do not. */
export async function freeBytes(): Promise<number | undefined> {
  const { usedBytes, quotaBytes } = await estimate();
  return usedBytes === undefined || quotaBytes === undefined ? undefined : Math.max(0, quotaBytes - usedBytes);
}

export async function estimate(): Promise<{ usedBytes: number | undefined; quotaBytes: number | undefined }> {
  const found = await globalThis.navigator?.storage?.estimate?.().catch(() => undefined);
  return { usedBytes: found?.usage, quotaBytes: found?.quota };
}

/** Counts anew. Answers what was there and is gone, if so; until `forget` nothing is noted then. */
export async function goneSince(): Promise<Mark | undefined> {
  const there = await counts();
  const before = readMark();
  if (before && before.jobs + before.readings > 0 && there.jobs + there.readings + there.takes === 0) return before;
  writeMark({ jobs: there.jobs, readings: there.readings });
  return undefined;
}

/** Notes what is there now, after things were kept or cleared away on purpose. */
export async function noteKept(): Promise<void> {
  const { jobs, readings } = await counts();
  writeMark({ jobs, readings });
}

function readMark(): Mark | undefined {
  try {
    const { jobs, readings } = JSON.parse(localStorage.getItem(MARK) ?? 'null') as Mark;
    return Number.isInteger(jobs) && Number.isInteger(readings) ? { jobs, readings } : undefined;
  } catch {
    return undefined;
  }
}

function writeMark(mark: Mark): void {
  try {
    localStorage.setItem(MARK, JSON.stringify(mark));
  } catch {
    // Where nothing can be kept, nothing can be missed.
  }
}
