// The practice bench as the hands of a check: takes are reckoned at once and shown at four times the speed of a clock.
import { dbfs, type Level } from '../audio/level';
import type { PageTake } from '../core/types.gen';
import { checkWords } from '../words/check';
import type { Ear, Hands, HeardTake, ListenPlan, PlayPlan } from './hands';
import { practiceKnock, practiceMeter, practicePlay, type PracticePick } from './core_calls';

const SPEED = 4;
const RATE_HZ = 48_000;
/** Levels for the eye come this often. */
const FRAME_MS = 70;

export function practiceHands(pick: PracticePick, firstSeed = 1): Hands {
  // Every take gets a seed of its own: noise repeats only where the whole practice is repeated.
  let seed = firstSeed;
  return {
    kind: 'practice',
    rateHz: RATE_HZ,
    speed: SPEED,
    promise: checkWords.practicePromise,
    inputLabel: checkWords.practiceJob,
    facts: [],
    doubts: [],
    watch: () => () => undefined,
    onTrouble: () => () => undefined,
    play: async (plan: PlayPlan) => {
      const take = await practicePlay(pick, plan, RATE_HZ, seed++);
      return run(take, plan.signal, plan.onLevel, () => undefined, plan.samples);
    },
    listen: async (plan: ListenPlan): Promise<Ear> => {
      const take = await practiceKnock(pick, plan, RATE_HZ, seed++);
      const ended = new AbortController();
      return { stop: () => ended.abort(), done: run(take, plan.signal, plan.onLevel, plan.onHeard, undefined, ended.signal) };
    },
    stop: () => undefined,
    close: () => undefined,
    sound: () => Promise.resolve(),
    readMeter: async (tone) => {
      const volts = await practiceMeter(pick, tone, seed++);
      return { ...volts, level_v: volts.source_v };
    },
  };
}

/** Lets a finished take pass as if it were heard now. `ended` ends it early, and what was heard counts. */
function run(take: PageTake, signal: AbortSignal, onLevel: (level: Level) => void, onHeard: (take: PageTake) => void, played?: Float32Array, ended?: AbortSignal): Promise<HeardTake> {
  const length = take.channels[0]?.length ?? 0;
  const began = performance.now();
  let from = 0;
  let lookedAt = 0;
  return new Promise((resolve) => {
    const cut = (to: number): HeardTake => ({ rateHz: take.rateHz, channels: take.channels.map((c) => c.slice(0, to)) });
    const tick = () => {
      const to = Math.min(length, Math.round(((performance.now() - began) / 1000) * SPEED * take.rateHz));
      if (signal.aborted) return finish({ ...cut(Math.max(to, 1)), voided: checkWords.stoppedReason });
      if (ended?.aborted) return finish(cut(Math.max(to, 1)));
      if (to > from) onLevel(levelOf(take, from, to, played));
      from = to;
      if (to - lookedAt > take.rateHz * SPEED * 0.25) {
        lookedAt = to;
        onHeard(cut(to));
      }
      if (to >= length) finish(cut(length));
    };
    const timer = setInterval(tick, FRAME_MS);
    const finish = (heard: HeardTake) => {
      clearInterval(timer);
      resolve(heard);
    };
  });
}

function levelOf(take: PageTake, from: number, to: number, played?: Float32Array): Level {
  const peak = (samples: Float32Array) => samples.subarray(from, to).reduce((most, s) => Math.max(most, Math.abs(s)), 0);
  const rms = (samples: Float32Array) => Math.sqrt(samples.subarray(from, to).reduce((sum, s) => sum + s * s, 0) / Math.max(1, to - from));
  return {
    peakDbfs: take.channels.map((c) => dbfs(peak(c))),
    rmsDbfs: take.channels.map((c) => dbfs(rms(c))),
    outputPeakDbfs: played ? dbfs(peak(played)) : undefined,
  };
}
