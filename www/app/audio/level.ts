// Levels for the eye: at most fifteen a second, however short the chunks are.
import type { Chunk } from './recording';

export interface Level {
  /** Highest sample of each input channel since the last level, dB below full scale. */
  peakDbfs: number[];
  rmsDbfs: number[];
  /** Highest sample that was played meanwhile; none where nothing plays. */
  outputPeakDbfs: number | undefined;
}

export type OnLevel = (level: Level) => void;

const MOST_PER_SECOND = 15;
/** Silence is shown as this, since the logarithm of nothing cannot be drawn. */
export const SILENCE_DBFS = -200;

export const dbfs = (amplitude: number) => Math.max(SILENCE_DBFS, 20 * Math.log10(amplitude));

export class LevelMeter {
  private peaks: number[] = [];
  private squares: number[] = [];
  private outputPeak: number | undefined;
  private frames = 0;

  constructor(private readonly rateHz: number) {}

  /** Answers a level when one is due. */
  add(chunk: Chunk, outputPeak: number | undefined): Level | undefined {
    if (chunk.channels.length !== this.peaks.length) this.clear(chunk.channels.length);
    chunk.channels.forEach((samples, c) => this.measure(samples, c));
    if (outputPeak !== undefined) this.outputPeak = Math.max(outputPeak, this.outputPeak ?? 0);
    this.frames += chunk.channels[0]?.length ?? 0;
    if (this.frames * MOST_PER_SECOND < this.rateHz) return undefined;
    const level = {
      peakDbfs: this.peaks.map(dbfs),
      rmsDbfs: this.squares.map((sum) => dbfs(Math.sqrt(sum / this.frames))),
      outputPeakDbfs: this.outputPeak === undefined ? undefined : dbfs(this.outputPeak),
    };
    this.clear(chunk.channels.length);
    return level;
  }

  private measure(samples: Float32Array, c: number): void {
    let peak = this.peaks[c] ?? 0;
    let sum = this.squares[c] ?? 0;
    for (const s of samples) {
      const size = Math.abs(s);
      if (size > peak) peak = size;
      sum += s * s;
    }
    this.peaks[c] = peak;
    this.squares[c] = sum;
  }

  private clear(channels: number): void {
    this.peaks = new Array<number>(channels).fill(0);
    this.squares = new Array<number>(channels).fill(0);
    this.outputPeak = undefined;
    this.frames = 0;
  }
}

/** Highest sample of `samples` between two of its indices, which may lie outside; none where nothing of it lies between. */
export function peakBetween(samples: Float32Array, from: number, until: number): number | undefined {
  const part = samples.subarray(Math.max(0, from), Math.max(0, until));
  if (part.length === 0) return undefined;
  let peak = 0;
  for (const s of part) peak = Math.max(peak, Math.abs(s));
  return peak;
}
