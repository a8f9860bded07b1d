// What page and worker say to each other.

/** A recording as the page keeps it: full scale is ±1. */
export interface PageTake {
  rateHz: number;
  channels: Float32Array[];
}

/** An error of the core. `field` names the place in a setup, e.g. `takes[1].role`. */
export interface CoreFault {
  kind: string;
  message: string;
  field?: string;
}

export interface Request {
  id: number;
  name: string;
  args: unknown[];
}

export type Answer =
  | { id: number; started: true }
  | { id: number; value: unknown }
  | { id: number; fault: CoreFault }
  /** The core is gone; the worker can only be replaced. */
  | { id: number; died: string };
