// An open pair of sound input and output, and the takes that go through it.
//
// A take that was disturbed is void and says why; after a disturbance everything is opened anew before the next take, as
// a context that was interrupted cannot be trusted. STOP is a gain on this thread and waits for nothing.
import { buildGraph, type Graph, type GraphOptions } from './graph';
import { LevelMeter, peakBetween, type Level, type OnLevel } from './level';
import { holdAudio } from './lock';
import { AudioProblem, type AudioProblemCode } from './problems';
import { Recording, type Chunk } from './recording';
import { keepAwake } from './wake';
import { watchGraph } from './watch';
import type { SessionFacts } from './facts';

export type { Level } from './level';
export type { SessionFacts } from './facts';
export { AudioProblem, type AudioProblemCode } from './problems';

/** Recorded before the stimulus begins. */
export const LEAD_S = 0.25;
/** Output and input together lag by up to this; a shorter tail would cut the end off. */
const LEAST_TAIL_S = 0.5;
const SOFT_START_S = 0.01;
const STOP_RAMP_S = 0.005;

export interface SessionTake {
  channels: Float32Array[];
  rateHz: number;
  facts: SessionFacts;
  /** Why the take does not count; its samples are then only what had come until then. */
  voided?: AudioProblem;
}

export interface ListenOptions {
  /** Every chunk as it comes, with the time of its first sample in the take. */
  onChunk?: (channels: Float32Array[], fromS: number) => void;
  onLevel?: OnLevel;
  maxS: number;
  signal?: AbortSignal | undefined;
}

export interface Listening {
  /** Ends the take; it counts. */
  stop(): Promise<SessionTake>;
  /** The take, however it ends. */
  done: Promise<SessionTake>;
}

interface Running {
  recording: Recording;
  fromFrame: number;
  samples: Float32Array;
  playFrame: number;
  source?: AudioBufferSourceNode;
  onLevel?: OnLevel | undefined;
  onChunk?: ListenOptions['onChunk'];
  settle: (voided?: AudioProblem) => void;
}

/** Call it inside a click. Throws an `AudioProblem`; nothing stays open then. */
export async function openSession(options: GraphOptions): Promise<Session> {
  const release = await holdAudio();
  const session = new Session(options, release);
  try {
    await session.ready();
    return session;
  } catch (error) {
    session.close();
    throw error;
  }
}

export class Session {
  private graph: Graph | undefined;
  private building: Promise<Graph> | undefined;
  private endWatch: () => void = () => undefined;
  private running: Running | undefined;
  private meter = new LevelMeter(48_000);
  private heardAt = 0;
  private closed = false;
  private lastFacts: SessionFacts | undefined;
  private readonly levelListeners = new Set<OnLevel>();
  private readonly troubleListeners = new Set<(problem: AudioProblem) => void>();

  constructor(
    private options: GraphOptions,
    private readonly release: () => void,
  ) {}

  /** What is known of the input, as of the last opening. */
  get facts(): SessionFacts {
    if (!this.lastFacts) throw new AudioProblem('no_device');
    return this.lastFacts;
  }

  /** Whether a take runs. */
  get busy(): boolean {
    return this.running !== undefined;
  }

  /** Levels as long as the input is open, takes or not. Answers the function that ends it. */
  onLevel(listener: OnLevel): () => void {
    this.levelListeners.add(listener);
    return () => this.levelListeners.delete(listener);
  }

  /** Everything that voids takes or closes the input, also between takes. */
  onTrouble(listener: (problem: AudioProblem) => void): () => void {
    this.troubleListeners.add(listener);
    return () => this.troubleListeners.delete(listener);
  }

  /** Opens what is not open, or was closed after a disturbance. */
  async ready(): Promise<Graph> {
    if (this.closed) throw new AudioProblem('stopped');
    if (this.graph?.context.state === 'running' && this.graph.track.readyState === 'live') return this.graph;
    this.tearDown();
    this.building ??= buildGraph(this.options, (chunk) => this.hear(chunk)).finally(() => (this.building = undefined));
    const graph = await this.building;
    if (this.closed) {
      graph.close();
      throw new AudioProblem('stopped');
    }
    if (this.graph !== graph) this.adopt(graph);
    return graph;
  }

  /** Plays a rendered signal (at `facts.rateHz`) and records from a little before it to `tailS` after it. */
  async playAndRecord(samples: Float32Array, tailS: number, signal?: AbortSignal, onLevel?: OnLevel): Promise<SessionTake> {
    const graph = await this.readyForTake();
    const { context } = graph;
    const rate = context.sampleRate;
    // The start lies far enough ahead that nothing of the lead has gone by when the recorder is set up.
    const playFrame = Math.ceil((context.currentTime + LEAD_S + 0.05) * rate);
    const fromFrame = playFrame - Math.round(LEAD_S * rate);
    const untilFrame = playFrame + samples.length + Math.round(Math.max(tailS, LEAST_TAIL_S) * rate);
    const source = this.play(graph, samples, playFrame / rate);
    return this.run(graph, { recording: new Recording(fromFrame, untilFrame), fromFrame, samples, playFrame, source, onLevel }, signal);
  }

  /** Records without playing until stopped, or until `maxS`. */
  async listen(options: ListenOptions): Promise<Listening> {
    const graph = await this.readyForTake();
    const rate = graph.context.sampleRate;
    const fromFrame = Math.ceil(graph.context.currentTime * rate);
    const recording = new Recording(fromFrame, fromFrame + Math.round(options.maxS * rate));
    const parts = { recording, fromFrame, samples: new Float32Array(), playFrame: 0, onLevel: options.onLevel, onChunk: options.onChunk };
    const done = this.run(graph, parts, options.signal);
    const stop = () => {
      if (this.running?.recording === recording) {
        recording.endHere();
        this.running.settle();
      }
      return done;
    };
    return { stop, done };
  }

  /** STOP: silence at once. A running take is void. */
  stop(): void {
    this.hush();
    this.running?.settle(new AudioProblem('stopped'));
  }

  /** Closes input and output and lets another tab have them. */
  close(): void {
    this.stop();
    this.closed = true;
    this.tearDown();
    this.release();
  }

  private async readyForTake(): Promise<Graph> {
    if (this.running) throw new Error('a take is running already');
    const graph = await this.ready();
    if (this.running) throw new Error('a take is running already');
    return graph;
  }

  private adopt(graph: Graph): void {
    this.graph = graph;
    this.lastFacts = graph.facts;
    // From now on this very device is meant: a default that moves elsewhere would be another input without a word.
    this.options = { ...this.options, inputDeviceId: this.options.inputDeviceId ?? (graph.facts.inputDeviceId || undefined) };
    this.meter = new LevelMeter(graph.facts.rateHz);
    this.heardAt = performance.now();
    this.endWatch = watchGraph(graph, () => this.heardAt, (code) => this.trouble(code));
  }

  private tearDown(): void {
    this.endWatch();
    this.endWatch = () => undefined;
    this.graph?.close();
    this.graph = undefined;
  }

  private play({ context, output }: Graph, samples: Float32Array, at: number): AudioBufferSourceNode {
    const buffer = new AudioBuffer({ length: Math.max(1, samples.length), numberOfChannels: 1, sampleRate: context.sampleRate });
    buffer.getChannelData(0).set(samples);
    const source = new AudioBufferSourceNode(context, { buffer });
    source.connect(output);
    output.gain.cancelScheduledValues(0);
    output.gain.setValueAtTime(0, at);
    output.gain.linearRampToValueAtTime(1, at + SOFT_START_S);
    source.start(at);
    return source;
  }

  private hush(): void {
    const graph = this.graph;
    if (!graph) return;
    const { gain } = graph.output;
    const now = graph.context.currentTime;
    const value = gain.value;
    gain.cancelScheduledValues(0);
    gain.setValueAtTime(value, now);
    gain.linearRampToValueAtTime(0, now + STOP_RAMP_S);
    this.running?.source?.stop(now + 4 * STOP_RAMP_S);
  }

  private run(graph: Graph, parts: Omit<Running, 'settle'>, signal: AbortSignal | undefined): Promise<SessionTake> {
    const release = keepAwake();
    const guard = (event: Event) => event.preventDefault();
    const abort = () => this.stop();
    window.addEventListener('beforeunload', guard);
    signal?.addEventListener('abort', abort);
    return new Promise((resolve) => {
      const settle = (voided?: AudioProblem) => {
        this.running = undefined;
        release();
        window.removeEventListener('beforeunload', guard);
        signal?.removeEventListener('abort', abort);
        if (voided) parts.recording.endHere();
        const take = { channels: parts.recording.cut(), rateHz: graph.context.sampleRate, facts: graph.facts };
        resolve(voided ? { ...take, voided } : take);
      };
      this.running = { ...parts, settle };
      if (signal?.aborted) abort();
      else if (document.visibilityState === 'hidden') this.trouble('page_hidden');
    });
  }

  private hear(arrived: Chunk): void {
    this.heardAt = performance.now();
    // Channels beyond those of the device are copies that the browser made.
    const chunk = { ...arrived, channels: arrived.channels.slice(0, this.lastFacts?.channels) };
    const run = this.running;
    const length = chunk.channels[0]?.length ?? 0;
    const at = chunk.firstFrame - (run?.playFrame ?? 0);
    this.tell(this.meter.add(chunk, run && peakBetween(run.samples, at, at + length)), run);
    if (!run) return;
    const progress = run.recording.add(chunk);
    if (progress === 'samples_lost' || progress === 'device_changed') return this.trouble(progress);
    run.onChunk?.(chunk.channels, (chunk.firstFrame - run.fromFrame) / this.facts.rateHz);
    if (progress === 'complete') run.settle();
  }

  private tell(level: Level | undefined, run: Running | undefined): void {
    if (!level) return;
    run?.onLevel?.(level);
    this.levelListeners.forEach((listener) => listener(level));
  }

  private trouble(code: AudioProblemCode): void {
    // Out of sight between takes is no trouble: whatever it did to the sound shows when the next take begins.
    if (code === 'page_hidden' && !this.running) return;
    const problem = new AudioProblem(code, { label: this.facts.inputLabel });
    this.hush();
    this.running?.settle(problem);
    this.tearDown();
    this.troubleListeners.forEach((listener) => listener(problem));
  }
}
