// A tone that sounds until it is told otherwise. Only the output opens: no input, no question by the browser.
//
// The tone comes as two periods; the first one fades in, the second is repeated for ever without a seam. STOP is a gain on
// this thread and waits for nothing.

const SOFT_START_S = 0.05;
const STOP_RAMP_S = 0.01;

export class ToneOutput {
  private readonly context: AudioContext;
  private readonly gain: GainNode;
  private source: AudioBufferSourceNode | undefined;

  /** Call it inside a click: contexts start only then. */
  constructor() {
    this.context = new AudioContext({ latencyHint: 'playback' });
    this.gain = new GainNode(this.context, { gain: 0 });
    this.gain.connect(this.context.destination);
  }

  get rateHz(): number {
    return this.context.sampleRate;
  }

  async sound(samples: Float32Array, loopS: number): Promise<void> {
    this.stop();
    await this.context.resume();
    const buffer = new AudioBuffer({ length: Math.max(1, samples.length), numberOfChannels: 1, sampleRate: this.rateHz });
    buffer.getChannelData(0).set(samples);
    const source = new AudioBufferSourceNode(this.context, { buffer, loop: true, loopStart: loopS, loopEnd: 2 * loopS });
    // The tone before it has faded by then.
    const at = this.context.currentTime + 4 * STOP_RAMP_S;
    source.connect(this.gain);
    this.gain.gain.setValueAtTime(0, at);
    this.gain.gain.linearRampToValueAtTime(1, at + SOFT_START_S);
    source.start(at);
    this.source = source;
  }

  stop(): void {
    const now = this.context.currentTime;
    const { gain } = this.gain;
    const value = gain.value;
    gain.cancelScheduledValues(0);
    gain.setValueAtTime(value, now);
    gain.linearRampToValueAtTime(0, now + STOP_RAMP_S);
    this.source?.stop(now + 3 * STOP_RAMP_S);
    this.source = undefined;
  }

  close(): void {
    this.stop();
    void this.context.close().catch(() => undefined);
  }
}
