// The core as the page sees it: every call a promise. Setups and answers are the generated types.
import { CoreQueue, type CallOptions } from './queue';
import type { Happening, ImpedanceBench, KnockBench, Step, Stimulus } from './types.gen';

export { CoreError, type CallOptions, type Progress } from './queue';
export type { PageTake } from './types.gen';

const queue = new CoreQueue(() => new Worker('worker.js'));

/** Tells when the core has panicked; it has been replaced by then, and nothing recorded was in it. */
export function onCoreDied(listener: (message: string) => void): void {
  queue.onDied = listener;
}

function step(check: 'impedance', bench: ImpedanceBench, history: Happening[], options?: CallOptions): Promise<Step>;
function step(check: 'knock', bench: KnockBench, history: Happening[], options?: CallOptions): Promise<Step>;
function step(
  check: 'impedance' | 'knock',
  bench: ImpedanceBench | KnockBench,
  history: Happening[],
  options?: CallOptions,
): Promise<Step> {
  return queue.call('step', [check, bench, history], options);
}

export const core = {
  version: (options?: CallOptions) => queue.call('version', [], options),
  /** What to show and do next; the same history gives the same step for ever. */
  step,
  /** Samples of all periods at the stimulus' own rate and level. */
  render: (stimulus: Stimulus, options?: CallOptions) => queue.call('render', [stimulus], options),
  /** For tests only: proves that a panic is reported and survived. */
  panicOnPurpose: () => queue.call('panic_on_purpose', []),
};
