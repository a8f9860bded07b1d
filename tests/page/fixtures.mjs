// WAV files for the page, played on the practice bench by the core that the page ships. Written anew for every run.
import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { loadCore } from '../../pkg-scripts/core.mjs';

const folder = fileURLToPath(new URL('../../target/fixtures/', import.meta.url));
export const RATE_HZ = 48_000;
export const DRIVER = 'six';

function keep(name, bytes) {
  mkdirSync(folder, { recursive: true });
  writeFileSync(folder + name, bytes);
  return folder + name;
}

export const truthOf = (core, id = DRIVER) => core.practice_drivers().find((d) => d.id === id).truth;

/** A two-channel take of a sweep through the practice bench's 47 Ω. */
export function impedanceWav(core = loadCore()) {
  const sweep = { shape: 'sweep', rate_hz: RATE_HZ, period_s: 1, periods: 6, low_hz: 8, high_hz: 20_000, peak_dbfs: -6, seed: 1 };
  const request = { driver: DRIVER, fault: 'none', position: { kind: 'driver' }, rate_hz: RATE_HZ, seed: 7 };
  return keep('impedance.wav', core.write_wav(core.practice_play(request, core.render(sweep)), 'int24'));
}

/** Knocks heard by the coil, at the given rate, in 16 bit, with a silent end. */
export function knockWav(rateHz = RATE_HZ, core = loadCore(), name = 'knock.wav') {
  const request = { driver: DRIVER, fault: 'none', sensor: 'coil', knocks: 6, load_ohm: null, added_mass_kg: 0, rate_hz: rateHz, seed: 3 };
  const { channels } = core.practice_knock(request);
  const quiet = new Float32Array(rateHz);
  const longer = channels.map((c) => join(c, quiet));
  const stereo = longer.length === 1 ? [longer[0], longer[0].map((s) => s / 2)] : longer;
  return keep(name, core.write_wav({ rateHz, channels: stereo }, 'int16'));
}

function join(a, b) {
  const out = new Float32Array(a.length + b.length);
  out.set(a);
  out.set(b, a.length);
  return out;
}

/** Two seconds of one channel in which nothing is heard. */
export function silentWav(core = loadCore()) {
  return keep('silent.wav', core.write_wav({ rateHz: RATE_HZ, channels: [new Float32Array(2 * RATE_HZ)] }, 'int16'));
}

/** What is no recording, though it says so. */
export function brokenWav() {
  return keep('broken.wav', Buffer.from('RIFF\x24\0\0\0WAVEfmt nothing that makes sense'));
}
