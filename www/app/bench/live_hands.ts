// The sound of this computer as the hands of a check.
import type { Session, SessionTake } from '../audio/session';
import { audioProblemWords } from '../words/audio-problems';
import { checkWords } from '../words/check';
import type { PageTake } from '../core/types.gen';
import type { Ear, Hands, HeardTake, ListenPlan, PlayPlan } from './hands';

/** How often all that was heard so far is looked through for knocks. */
const LOOK_EVERY_S = 0.7;

export function liveHands(session: Session): Hands {
  const { facts } = session;
  return {
    kind: 'live',
    rateHz: facts.rateHz,
    speed: 1,
    promise: checkWords.livePromise(facts.inputLabel || checkWords.input),
    inputLabel: facts.inputLabel,
    play: async (plan: PlayPlan) => heard(await session.playAndRecord(plan.samples, plan.tailS, plan.signal, plan.onLevel)),
    listen: (plan: ListenPlan) => listen(session, plan),
    stop: () => session.stop(),
    close: () => session.close(),
  };
}

async function listen(session: Session, plan: ListenPlan): Promise<Ear> {
  const soFar = new Growing(session.facts.rateHz);
  let lookedAtS = 0;
  const listening = await session.listen({
    maxS: plan.maxS,
    signal: plan.signal,
    onLevel: plan.onLevel,
    onChunk: (channels) => {
      soFar.add(channels);
      if (soFar.seconds - lookedAtS < LOOK_EVERY_S) return;
      lookedAtS = soFar.seconds;
      plan.onHeard(soFar.take());
    },
  });
  return { stop: () => void listening.stop(), done: listening.done.then(heard) };
}

function heard(take: SessionTake): HeardTake {
  const plain: HeardTake = { rateHz: take.rateHz, channels: take.channels };
  if (take.voided) plain.voided = take.voided.code === 'stopped' ? checkWords.stoppedReason : audioProblemWords(take.voided.code, take.voided.detail).what;
  return plain;
}

/** Chunks laid end to end; the buffer doubles when it is full. */
class Growing {
  private buffers: Float32Array[] = [];
  private length = 0;

  constructor(private readonly rateHz: number) {}

  get seconds(): number {
    return this.length / this.rateHz;
  }

  add(channels: Float32Array[]): void {
    const more = channels[0]?.length ?? 0;
    channels.forEach((samples, c) => {
      let buffer = this.buffers[c] ?? new Float32Array(1 << 18);
      if (buffer.length < this.length + more) {
        const larger = new Float32Array(Math.max(buffer.length * 2, this.length + more));
        larger.set(buffer);
        buffer = larger;
      }
      buffer.set(samples, this.length);
      this.buffers[c] = buffer;
    });
    this.length += more;
  }

  take(): PageTake {
    return { rateHz: this.rateHz, channels: this.buffers.map((b) => b.slice(0, this.length)) };
  }
}
