// What page and worker say to each other. What the core itself takes and answers is in the generated types.
import type { Core, CoreFault } from './types.gen';

export type CoreFunction = keyof Core;

export interface Request {
  id: number;
  name: CoreFunction;
  args: unknown[];
}

export type Message =
  | Request
  /** The bytes of the core and its parts by file, for a page in one file that cannot fetch them. */
  | { wasm: Record<string, ArrayBuffer> };

export type Answer =
  | { id: number; started: true }
  | { id: number; value: unknown }
  | { id: number; fault: CoreFault }
  /** The core is gone; the worker can only be replaced. */
  | { id: number; died: string };
