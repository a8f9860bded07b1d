// The hands of the check by meter: a tone at the output, or nothing at all where readings come from paper.
import { ToneOutput } from '../../audio/tone_output';
import { meterWords as w } from '../../words/meter';
import type { Hands } from '../hands';

const nothing = () => undefined;
const none = () => Promise.reject(new Error('the check by meter records nothing'));

/** Call it inside a click. */
export function meterHands(byHand: boolean): Hands {
  const output = byHand ? undefined : new ToneOutput();
  return {
    kind: 'live',
    rateHz: output?.rateHz ?? 48_000,
    speed: 1,
    promise: byHand ? w.byHandPromise : w.promise,
    inputLabel: '',
    facts: [],
    doubts: [],
    watch: () => nothing,
    onTrouble: () => nothing,
    play: none,
    listen: none,
    sound: async (samples, loopS) => output?.sound(samples, loopS),
    stop: () => output?.stop(),
    close: () => output?.close(),
  };
}
