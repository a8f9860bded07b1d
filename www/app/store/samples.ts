// How samples lie in the store: 16 bit where they came from a 16-bit path, else as they are. Both keep every sample.

export type Coding = 'int16' | 'int16_split' | 'float32';

export interface StoredChannel {
  coding: Coding;
  data: ArrayBuffer;
}

/**
 * Steps of the two 16-bit grids that sound arrives on: one scale for both signs (files, most inputs), or one for each, so
 * that both rails are full scale (how some browsers turn integers into floats).
 */
const STEPS: Record<Exclude<Coding, 'float32'>, { positive: number; negative: number }> = {
  int16: { positive: 1 / 32768, negative: 1 / 32768 },
  int16_split: { positive: 1 / 32767, negative: 1 / 32768 },
};

/** Two units in the last place of a float near full scale: what dividing in another order may cost. */
const ROUNDING = 2 ** -23;

export function encode(samples: Float32Array): StoredChannel {
  for (const coding of ['int16', 'int16_split'] as const) {
    const data = onGrid(samples, coding);
    if (data) return { coding, data: data.buffer as ArrayBuffer };
  }
  // A copy: the caller's array may be part of a larger buffer, which would be stored whole.
  return { coding: 'float32', data: samples.slice().buffer as ArrayBuffer };
}

export function decode({ coding, data }: StoredChannel): Float32Array {
  if (coding === 'float32') return new Float32Array(data);
  const { positive, negative } = STEPS[coding];
  return Float32Array.from(new Int16Array(data), (n) => n * (n > 0 ? positive : negative));
}

function onGrid(samples: Float32Array, coding: Exclude<Coding, 'float32'>): Int16Array | undefined {
  const { positive, negative } = STEPS[coding];
  const out = new Int16Array(samples.length);
  for (let i = 0; i < samples.length; i++) {
    const s = samples[i]!;
    const step = s > 0 ? positive : negative;
    const n = Math.round(s / step);
    if (!(n >= -32768 && n <= 32767) || Math.abs(n * step - s) > ROUNDING) return undefined;
    out[i] = n;
  }
  return out;
}
