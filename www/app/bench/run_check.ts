// The runner of a check as a screen uses it.
import { useEffect, useReducer, useRef } from 'preact/hooks';
import { CheckRunner, type CheckOptions, type CheckState } from './check_runner';
import type { CheckName } from './core_calls';

export type { CheckOptions } from './check_runner';

export interface CheckRun extends CheckState {
  runner: CheckRunner;
}

/** One runner for the life of the screen; the screen is drawn anew whenever its state changes. */
export function useCheck(options: CheckOptions<CheckName>): CheckRun {
  const [, draw] = useReducer((n: number) => n + 1, 0);
  const held = useRef<CheckRunner>();
  held.current ??= new CheckRunner(options, () => draw(undefined));
  const runner = held.current;
  useEffect(() => () => runner.close(), []);
  return { ...runner.state, runner };
}
