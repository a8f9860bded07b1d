// The sound of this computer as the hands of a check.
import type { AudioProblem, Session, SessionFacts, SessionTake } from '../audio/session';
import { AUDIO_CAUTION_WORDS, audioProblemWords, STAGE_WORDS } from '../words/audio-problems';
import { checkWords } from '../words/check';
import { fixed, NBSP } from '../ui/format';
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
    facts: factRows(facts),
    doubts: facts.cautions.map((name) => AUDIO_CAUTION_WORDS[name]),
    watch: (onLevel) => session.onLevel(onLevel),
    onTrouble: (listener) => session.onTrouble((problem) => listener(saidOf(problem))),
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

function saidOf(problem: AudioProblem): string {
  const { what, remedy } = audioProblemWords(problem.code, problem.detail);
  return `${what} ${remedy}`;
}

function factRows(facts: SessionFacts): [string, string][] {
  const w = checkWords.facts;
  const rows: [string, string][] = [
    [w.input, facts.inputLabel || w.unnamed],
    [w.rate, `${fixed(facts.rateHz, 0)}${NBSP}Hz`],
    ...(facts.deviceRateHz === undefined || facts.deviceRateHz === facts.rateHz ? [] : [[w.deviceRate, `${fixed(facts.deviceRateHz, 0)}${NBSP}Hz`] as [string, string]]),
    [w.channels, String(facts.channels)],
  ];
  for (const [stage, state] of Object.entries(facts.processing)) {
    const name = STAGE_WORDS.names[stage as keyof typeof STAGE_WORDS.names];
    const said = STAGE_WORDS.states[state as keyof typeof STAGE_WORDS.states];
    if (name && said) rows.push([name, said]);
  }
  return rows;
}

function heard(take: SessionTake): HeardTake {
  const plain: HeardTake = { rateHz: take.rateHz, channels: take.channels, facts: take.facts };
  if (take.voided) plain.voided = take.voided.code === 'stopped' ? checkWords.stoppedReason : saidOf(take.voided);
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
