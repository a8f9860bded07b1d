// The few things that the checks ask of the core, in the page's own shapes.
import { core, type BenchOf } from '../core/client';
import type { Action, Fault, Happening, KnockNote, MeterAccuracy, Notice, PageTake, Position, PracticeDriver, PracticeFault, PracticeVolts, Reading, ReadingNote, Scene, Step, Stimulus, TakeNote } from '../core/types.gen';
import type { SpiceRequest, TouchstoneRequest } from '../store/circuit_files';
import type { Setup } from './analysis';
import type { ListenPlan, PlayPlan } from './hands';

export type { BenchOf } from '../core/client';
export type CheckName = keyof BenchOf;

/** What a person picked on the practice bench. */
export interface PracticePick {
  driver: string;
  fault: Fault;
  sensor: 'coil' | 'microphone';
  /** The bench has one input, which hangs at the driver. */
  oneInput?: boolean;
  /** Two drivers at once: the one that is picked and its sister. */
  pair?: boolean;
  /** An amplifier at the driver, a microphone close to the cone. */
  close?: boolean;
  /** By meter: the resistor that the person has, and the meter. */
  meter?: { resistorOhm: number; accuracy: MeterAccuracy };
}

export type { Fault, PracticeDriver, PracticeFault } from '../core/types.gen';

export function stepOf<C extends CheckName>(check: C, bench: BenchOf[C], history: Happening[]): Promise<Step> {
  return core.step(check, bench, history);
}

export function analyse(setup: Setup & { takes: Setup[] }, takes: PageTake[], signal?: AbortSignal): Promise<Reading> {
  return core.analyse(setup as Parameters<typeof core.analyse>[0], takes, signal ? { signal } : {});
}
export const renderStimulus = (stimulus: Stimulus): Promise<Float32Array> => core.render(stimulus);
export const spotKnocks = (take: PageTake, channel: number, second: number | null): Promise<KnockNote[]> => core.spotKnocks(take, channel, second);

/** What the procedure wants to know of a take, the knocks in it included. */
export async function noteOfTake(id: string, action: Action, take: PageTake): Promise<TakeNote> {
  const note = await core.noteTake(id, action, take);
  return action.kind === 'listen' ? { ...note, knocks: await spotKnocks(take, action.channel, action.second_channel) } : note;
}

/** Samples go out as 32-bit floats: every 16-bit and 24-bit sample is held exactly. */
export const writeWav = (take: PageTake): Promise<Uint8Array> => core.writeWav(take, 'float32');
export const writeTouchstone = (request: TouchstoneRequest): Promise<string> => core.writeTouchstone(...request);
export const writeSpice = (request: SpiceRequest): Promise<string> => core.writeSpice(...request);
export const readWav = async (bytes: Uint8Array): Promise<PageTake> => (await core.readWav(bytes)).take;

export const practiceDrivers = (): Promise<PracticeDriver[]> => core.practiceDrivers();
export const practiceFaults = (): Promise<PracticeFault[]> => core.practiceFaults();

/** Plays that look for a level or prove the input straight have roles of their own; the driver is connected in them. */
function positionOf(plan: PlayPlan): Position {
  if (plan.resistorOhm !== null) return { kind: 'known_resistor', resistor_ohm: plan.resistorOhm };
  return plan.role === 'same_node' || plan.role === 'short' || plan.role === 'open' ? { kind: plan.role } : { kind: 'driver' };
}

/** What the hands do on the practice bench while a take runs. */
function sceneOf({ role, stimulus }: PlayPlan, close = false): Scene {
  if (close) return role.startsWith('with_') || role === 'with' ? 'close_with_resistor' : role === 'loaded' ? 'close_loaded' : 'close';
  if (role === 'cell') return 'cell';
  if (role === 'flexed') return 'flexing';
  if (stimulus.shape === 'pulse') return 'microphone';
  return stimulus.shape === 'silence' && (role === 'driver' || role === 'known_driver') ? 'push' : 'jig';
}

export async function practicePlay(pick: PracticePick, plan: PlayPlan, rateHz: number, seed: number): Promise<PageTake> {
  // A real input lags and runs on; silence after the end is what is heard then.
  const played = new Float32Array(plan.samples.length + Math.round(plan.tailS * rateHz));
  played.set(plan.samples);
  const take = await core.practicePlay({ driver: pick.driver, fault: pick.fault, position: positionOf(plan), scene: sceneOf(plan, pick.close), added_mass_kg: plan.addedMassKg, box_volume_m3: plan.boxVolumeM3, rate_hz: rateHz, seed }, played);
  return pick.oneInput ? { ...take, channels: take.channels.slice(1) } : take;
}

export function practiceKnock(pick: PracticePick, plan: ListenPlan, rateHz: number, seed: number): Promise<PageTake> {
  if (pick.pair) {
    const both = plan.secondChannel !== null;
    return core.practicePair({ driver: pick.driver, fault: pick.fault, knocks: (both ? plan.wantedKnocks / 2 : plan.wantedKnocks) + 2, load_ohm: plan.loadOhm, only_channel: both ? null : plan.channel, rate_hz: rateHz, seed });
  }
  return core.practiceKnock({ driver: pick.driver, fault: pick.fault, sensor: pick.sensor, knocks: plan.wantedKnocks + 2, load_ohm: plan.loadOhm, added_mass_kg: plan.addedMassKg ?? 0, box_volume_m3: plan.boxVolumeM3, rate_hz: rateHz, seed });
}

/** What the practice bench's meter shows while the tone sounds. */
export function practiceMeter(pick: PracticePick, tone: Stimulus, seed: number): Promise<PracticeVolts> {
  const { resistorOhm = 10, accuracy = { percent_of_reading: 1, counts: 0, resolution_v: 0.001 } } = pick.meter ?? {};
  const { percent_of_reading, counts, resolution_v, resolution_above_v } = accuracy;
  return core.practiceMeter({ driver: pick.driver, fault: pick.fault, frequency_hz: tone.low_hz, peak_dbfs: tone.peak_dbfs, series_resistor_ohm: resistorOhm, percent_of_reading, counts, resolution_v, resolution_above_v: resolution_above_v ?? null, seed });
}

/** True figures of a practice driver; none where the fault changes the driver itself, as they then belong to another one. */
export async function practiceTruth(practice: { driver: string; fault: string }, check: string): Promise<Record<string, number> | undefined> {
  const changed = ['reversed', 'shorted_turns', 'rub', 'stiff_surround', 'heavy_cone', 'weak_magnet'];
  if (changed.includes(practice.fault)) return undefined;
  if (check === 'pair') return core.practicePairTruth(practice.driver);
  const driver = (await practiceDrivers()).find((d) => d.id === practice.driver);
  return driver && { ...driver.truth };
}

/** The record of a refusal by the procedure, which refused before there was anything to compute. */
export async function refusalReading(check: CheckName, refusal: Notice): Promise<Reading> {
  return { schema: 1, check, outcome: 'refused', values: {}, alongside: {}, chosen: {}, curves: {}, warnings: [], refusal, computed_with: { version: await core.version(), method: 'levels and knocks as heard' } };
}

/** What the procedure hears of a reading. */
export function noteOfReading(takes: string[], reading: Reading): ReadingNote {
  const values = Object.fromEntries(Object.entries(reading.values).map(([name, figure]) => [name, figure?.value ?? 0]));
  return { takes, outcome: reading.outcome, refusal: reading.refusal, warnings: reading.warnings.map((w) => w.code), values };
}
