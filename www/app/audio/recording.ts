// Puts the chunks of the worklet together to one take between two frames of the context's clock.
import type { AudioProblemCode } from './problems';

/** As the worklet sends it. */
export interface Chunk {
  /** Frame of the context's clock at which it begins. */
  firstFrame: number;
  channels: Float32Array[];
}

export type Progress = 'more' | 'complete' | Extract<AudioProblemCode, 'samples_lost' | 'device_changed'>;

export class Recording {
  private readonly chunks: Chunk[] = [];
  private nextFrame: number | undefined;

  /** `untilFrame` is exclusive. */
  constructor(
    private readonly fromFrame: number,
    private untilFrame: number,
  ) {}

  /** Frames inside the take so far. */
  get frames(): number {
    return Math.max(0, Math.min(this.nextFrame ?? this.fromFrame, this.untilFrame) - this.fromFrame);
  }

  /** Takes what belongs to the take. A hole in the count or another number of channels spoils it. */
  add(chunk: Chunk): Progress {
    const length = chunk.channels[0]?.length ?? 0;
    const end = chunk.firstFrame + length;
    if (end <= this.fromFrame) return 'more';
    const first = this.chunks[0];
    if (first && first.channels.length !== chunk.channels.length) return 'device_changed';
    const expected = this.nextFrame ?? Math.min(chunk.firstFrame, this.fromFrame);
    if (chunk.firstFrame !== expected && chunk.firstFrame > this.fromFrame) return 'samples_lost';
    this.chunks.push(chunk);
    this.nextFrame = end;
    return end >= this.untilFrame ? 'complete' : 'more';
  }

  /** Ends the take at what has arrived. */
  endHere(): void {
    this.untilFrame = Math.min(this.untilFrame, this.nextFrame ?? this.fromFrame);
  }

  /** The samples of the take, a channel each. */
  cut(): Float32Array[] {
    const count = this.chunks[0]?.channels.length ?? 0;
    return Array.from({ length: count }, (_, c) => this.channel(c));
  }

  private channel(index: number): Float32Array {
    const out = new Float32Array(this.frames);
    for (const { firstFrame, channels } of this.chunks) {
      const samples = channels[index] ?? new Float32Array();
      const skip = Math.max(0, this.fromFrame - firstFrame);
      const at = Math.max(0, firstFrame - this.fromFrame);
      const take = samples.subarray(skip, skip + Math.max(0, out.length - at));
      out.set(take, at);
    }
    return out;
  }
}
