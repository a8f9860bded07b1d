// One open input and the context around it: source -> worklet -> silence (so that it is pulled), and gain -> output.
import { workletAddress } from '../one_file';
import { inputConstraints } from './constraints';
import { factsOf, refuseUnfit, type SessionFacts } from './facts';
import { AudioProblem, problemOfCapture } from './problems';
import type { Chunk } from './recording';

export interface GraphOptions {
  inputDeviceId?: string | undefined;
  outputDeviceId?: string | undefined;
  /** The take needs so many channels; fewer are refused. */
  needsChannels?: number | undefined;
}

export interface Graph {
  context: AudioContext;
  track: MediaStreamTrack;
  /** Everything that is played goes through it: STOP turns it to nothing. */
  output: GainNode;
  facts: SessionFacts;
  close(): void;
}

const PATIENCE_MS = 4000;

/** Opens input and output. Call it inside a click: contexts start only then. Whatever fails, nothing stays open. */
export async function buildGraph(options: GraphOptions, onChunk: (chunk: Chunk) => void): Promise<Graph> {
  if (!navigator.mediaDevices?.getUserMedia) throw new AudioProblem(window.isSecureContext ? 'not_supported' : 'not_secure');
  if (typeof AudioWorkletNode === 'undefined') throw new AudioProblem('not_supported');
  preferRecordingRoute();
  const stream = await openInput(options.inputDeviceId);
  // No rate is asked for: where it differed from the input's, one engine would refuse and others resample.
  const context = new AudioContext({ latencyHint: 'playback' });
  const close = () => {
    stream.getTracks().forEach((track) => track.stop());
    if (context.state !== 'closed') void context.close().catch(() => undefined);
  };
  try {
    return await connect(context, stream, options, onChunk, close);
  } catch (error) {
    close();
    throw error instanceof AudioProblem ? error : new AudioProblem('not_supported');
  }
}

/** Tells a phone first that sound goes both ways, or the output changes its level when the input opens. */
function preferRecordingRoute(): void {
  const session = (navigator as { audioSession?: { type: string } }).audioSession;
  if (session) session.type = 'play-and-record';
}

async function openInput(deviceId: string | undefined): Promise<MediaStream> {
  try {
    return await navigator.mediaDevices.getUserMedia(inputConstraints(deviceId));
  } catch (error) {
    throw problemOfCapture(error, deviceId !== undefined);
  }
}

async function connect(
  context: AudioContext,
  stream: MediaStream,
  options: GraphOptions,
  onChunk: (chunk: Chunk) => void,
  close: () => void,
): Promise<Graph> {
  const track = stream.getAudioTracks()[0];
  if (!track) throw new AudioProblem('no_device');
  await within(context.resume(), 'suspended');
  if (context.state !== 'running') throw new AudioProblem('suspended');
  const outputChosen = await chooseOutput(context, options.outputDeviceId);
  await context.audioWorklet.addModule(workletAddress());
  const capture = new AudioWorkletNode(context, 'capture', { channelInterpretation: 'discrete', outputChannelCount: [1] });
  const first = firstChunk(capture, onChunk);
  context.createMediaStreamSource(stream).connect(capture);
  const silence = new GainNode(context, { gain: 0 });
  capture.connect(silence).connect(context.destination);
  const output = new GainNode(context, { gain: 0 });
  output.connect(context.destination);
  const channels = (await within(first, 'no_samples', { label: track.label })).channels.length;
  const facts = factsOf({
    label: track.label,
    settings: track.getSettings(),
    contextRateHz: context.sampleRate,
    channels,
    outputChosen,
    baseLatencyS: context.baseLatency,
    userAgent: navigator.userAgent,
    touchOnly: window.matchMedia('(pointer: coarse) and (hover: none)').matches,
  });
  refuseUnfit(facts, options.needsChannels ?? 1);
  return { context, track, output, facts, close: closing(capture, close) };
}

function closing(capture: AudioWorkletNode, close: () => void): () => void {
  return () => {
    capture.port.onmessage = null;
    capture.port.postMessage('end');
    close();
  };
}

/** Hands every chunk on; resolves with the first. */
function firstChunk(capture: AudioWorkletNode, onChunk: (chunk: Chunk) => void): Promise<Chunk> {
  return new Promise((resolve) => {
    capture.port.onmessage = (event: MessageEvent<Chunk>) => {
      resolve(event.data);
      onChunk(event.data);
    };
  });
}

async function chooseOutput(context: AudioContext, deviceId: string | undefined): Promise<boolean> {
  const able = context as AudioContext & { setSinkId?: (id: string) => Promise<void> };
  if (!deviceId || !able.setSinkId) return false;
  try {
    await able.setSinkId(deviceId);
    return true;
  } catch {
    throw new AudioProblem('output_lost');
  }
}

function within<T>(work: Promise<T>, late: 'suspended' | 'no_samples', detail = {}): Promise<T> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new AudioProblem(late, detail)), PATIENCE_MS);
    work.then(resolve, () => reject(new AudioProblem(late, detail))).finally(() => clearTimeout(timer));
  });
}
