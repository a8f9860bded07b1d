// The takes that the example setups name, made on the practice bench by the very core that the page ships.
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

const RATE_HZ = 48_000;
const DRIVER = 'six';

export function truthOf(core) {
  return core.practice_drivers().find(({ id }) => id === DRIVER).truth;
}

/** Writes takes/*.wav into the folder. */
export function makeTakes(core, folder) {
  mkdirSync(join(folder, 'takes'), { recursive: true });
  const write = (name, take) => writeFileSync(join(folder, 'takes', `${name}.wav`), core.write_wav(take, 'int24'));

  const knock = (name, seed, more) =>
    write(name, core.practice_knock({ driver: DRIVER, fault: 'none', sensor: 'coil', knocks: 6, load_ohm: null, added_mass_kg: 0, rate_hz: RATE_HZ, seed, ...more }));
  knock('open', 1, {});
  knock('load-56-ohm', 2, { load_ohm: 56 });
  knock('weight-12-g', 3, { added_mass_kg: 0.012 });
  knock('knock-in-15-l', 20, { box_volume_m3: 0.015 });
  const pair = (name, seed, more, fault = 'none') =>
    write(name, core.practice_pair({ driver: DRIVER, fault, knocks: 5, load_ohm: null, only_channel: null, rate_hz: RATE_HZ, seed, ...more }));
  pair('pair-open', 1, {});
  pair('pair-first-33-ohm', 2, { load_ohm: 33, only_channel: 1 });
  pair('pair-second-33-ohm', 3, { load_ohm: 33, only_channel: 2 });
  pair('pair-mono', 4, {}, 'mono_input');
  write('nobody', { rateHz: RATE_HZ, channels: [hiss(8 * RATE_HZ)] });

  const sweep = core.render({ shape: 'sweep', rate_hz: RATE_HZ, period_s: 1, periods: 6, low_hz: 10, high_hz: 20_000, peak_dbfs: -12, seed: 1 });
  const play = (name, seed, position, fault = 'none', mounted = {}) =>
    write(name, core.practice_play({ driver: DRIVER, fault, position, rate_hz: RATE_HZ, seed, ...mounted }, sweep));
  play('driver', 5, { kind: 'driver' });
  play('same-node', 6, { kind: 'same_node' });
  play('resistor-8-2-ohm', 7, { kind: 'known_resistor', resistor_ohm: 8.2 });
  play('short', 8, { kind: 'short' });
  play('driver-weight-7-g', 10, { kind: 'driver' }, 'none', { added_mass_kg: 0.007 });
  play('driver-in-15-l', 11, { kind: 'driver' }, 'none', { box_volume_m3: 0.015 });
  const by = (name, seed, scene, samples, fault = 'none') =>
    write(name, core.practice_play({ driver: DRIVER, fault, position: { kind: 'driver' }, scene, rate_hz: RATE_HZ, seed }, samples));
  const nothing = new Float32Array(13 * RATE_HZ);
  by('cell', 12, 'cell', nothing);
  by('push', 13, 'push', nothing);
  by('push-reversed', 14, 'push', nothing, 'reversed');
  by('push-unsteady', 15, 'push', nothing, 'unsteady_hand');
  const tone = core.render({ shape: 'tone', rate_hz: RATE_HZ, period_s: 1, periods: 7, low_hz: 1000, high_hz: 1000, peak_dbfs: -12, seed: 1 });
  by('flexed', 16, 'flexing', tone, 'loose_joint');
  by('flexed-good', 17, 'flexing', tone);
  play('nothing', 9, { kind: 'driver' }, 'silent');

  // One input across the driver; every take begins at another moment.
  const marked = core.render({ shape: 'marked_multisine', rate_hz: RATE_HZ, period_s: 1, periods: 6, low_hz: 10, high_hz: 20_000, peak_dbfs: -8, seed: 1 });
  const oneInput = (name, seed, position) => {
    const late = new Float32Array(marked.length + 4000 * seed + 4800);
    late.set(marked, 4000 * seed);
    const take = core.practice_play({ driver: DRIVER, fault: 'none', position, rate_hz: RATE_HZ, seed }, late);
    write(name, { ...take, channels: take.channels.slice(1) });
  };
  const known = { kind: 'known_resistor', resistor_ohm: 8.2 };
  oneInput('one-resistor', 1, known);
  oneInput('one-open', 2, { kind: 'open' });
  oneInput('one-driver', 3, { kind: 'driver' });
  oneInput('one-resistor-again', 4, known);

  // A microphone close to the cone; the shape is that of the example setup.
  const { shaped_louder_db, shaped_at_hz, shaped_q_without, shaped_q_with } = JSON.parse(readFileSync(new URL('microphone.json', import.meta.url), 'utf8'));
  const close = { shape: 'marked_multisine', rate_hz: RATE_HZ, period_s: 1, periods: 6, low_hz: 5, high_hz: 1000, peak_dbfs: -24, seed: 1 };
  const shaped = { ...close, peak_dbfs: close.peak_dbfs + shaped_louder_db, travel_shape: [shaped_at_hz, shaped_q_without, shaped_q_with] };
  const heard = (name, seed, scene, stimulus, fault = 'none') => {
    const played = core.render(stimulus);
    const late = new Float32Array(played.length + 3000 * seed + 4800);
    late.set(played, 3000 * seed);
    by(name, seed, scene, late, fault);
  };
  heard('close-without', 1, 'close', close);
  heard('close-loaded', 2, 'close_loaded', close);
  heard('close-with', 3, 'close_with_resistor', close);
  heard('close-with-shaped', 4, 'close_with_resistor', shaped);
  heard('close-without-again', 5, 'close', close);
  by('room', 6, 'close', new Float32Array(6 * RATE_HZ));
  by('room-rumble', 7, 'close', new Float32Array(6 * RATE_HZ), 'rumble');
}

/** Steady noise at about -60 dB below full scale, from a small congruential generator. */
function hiss(length) {
  let state = 1;
  return Float32Array.from({ length }, () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return 0.002 * (state / 2 ** 32 - 0.5);
  });
}
