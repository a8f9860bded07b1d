// The core as the page sees it: every call a promise. Setups and answers are the generated types.
import { CoreQueue, type CallOptions } from './queue';

export { CoreError, type CallOptions, type Progress } from './queue';
export type { PageTake } from './types.gen';

const queue = new CoreQueue(() => new Worker('worker.js'));

/** Tells when the core has panicked; it has been replaced by then, and nothing recorded was in it. */
export function onCoreDied(listener: (message: string) => void): void {
  queue.onDied = listener;
}

export const core = {
  version: (options?: CallOptions) => queue.call('version', [], options),
  /** For tests only: proves that a panic is reported and survived. */
  panicOnPurpose: () => queue.call('panic_on_purpose', []),
};
