// Rings of the running take, for the slots.
import type { KnockNote, PageTake } from '../core/types.gen';

const BEFORE_S = 0.02;
const STEP_S = 0.0015;
const MOST = 220;

/** A third of a second of the ring, thinned for a slot; none where too little was recorded of it. */
export function ringOf(take: PageTake, channel: number, knock: KnockNote): Float32Array | undefined {
  const samples = take.channels[channel - 1];
  if (!samples) return undefined;
  const from = Math.max(0, Math.round((knock.time_s - BEFORE_S) * take.rateHz));
  const step = Math.max(1, Math.round(take.rateHz * STEP_S));
  const count = Math.min(MOST, Math.floor((samples.length - from) / step));
  return count > 20 ? Float32Array.from({ length: count }, (_, i) => samples[from + i * step] ?? 0) : undefined;
}

/** Two lists of knocks are the same to the procedure where times and reasons are. */
export const shapeOf = (knocks: KnockNote[]) => JSON.stringify(knocks.map((k) => [k.channel, k.time_s.toFixed(2), k.set_aside?.code]));
