// What a running check uses to play and to hear: the sound of this computer, or the practice bench. One shape for both,
// so that the very same screens lead through either.
import type { SessionFacts } from '../audio/facts';
import type { Level } from '../audio/level';
import type { PageTake, Stimulus } from '../core/types.gen';

export interface HeardTake extends PageTake {
  /** One sentence; the take does not count. */
  voided?: string;
  /** What was known of the input; none on the practice bench. */
  facts?: SessionFacts;
}

export interface ListenPlan {
  channel: number;
  secondChannel: number | null;
  wantedKnocks: number;
  maxS: number;
  loadOhm: number | null;
  addedMassKg: number | null;
  boxVolumeM3: number | null;
  onLevel: (level: Level) => void;
  /** Everything heard so far, now and then. */
  onHeard: (take: PageTake) => void;
  signal: AbortSignal;
}

export interface Ear {
  /** Ends the take; it counts. */
  stop: () => void;
  done: Promise<HeardTake>;
}

export interface PlayPlan {
  stimulus: Stimulus;
  role: string;
  resistorOhm: number | null;
  addedMassKg: number | null;
  boxVolumeM3: number | null;
  samples: Float32Array;
  tailS: number;
  onLevel: (level: Level) => void;
  signal: AbortSignal;
}

export interface Hands {
  kind: 'live' | 'practice';
  rateHz: number;
  /** How many times faster than a clock it runs. */
  speed: number;
  /** What stands in the head of the page. */
  promise: string;
  inputLabel: string;
  play: (plan: PlayPlan) => Promise<HeardTake>;
  listen: (plan: ListenPlan) => Promise<Ear>;
  /** What is known of the input, for the stub; empty on the practice bench. */
  facts: [string, string][];
  /** Milder doubts about the input. */
  doubts: string[];
  /** Levels while nothing runs. Answers the function that ends it. */
  watch: (onLevel: (level: Level) => void) => () => void;
  /** Trouble between takes, in one or two sentences. */
  onTrouble: (listener: (said: string) => void) => () => void;
  /** A tone until `stop` or the next one: two periods, the second of `loopS` seconds repeated for ever. */
  sound?: (samples: Float32Array, loopS: number) => Promise<void>;
  /** The practice bench's meter: volts by the names of a step's fields. */
  readMeter?: (tone: Stimulus) => Promise<Record<string, number>>;
  /** Silence at once. */
  stop: () => void;
  close: () => void;
}
