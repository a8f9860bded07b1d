// The few things that the checks ask of the core, in the page's own shapes.
import { core } from '../core/client';
import type { Action, Happening, ImpedanceBench, KnockBench, KnockNote, PageTake, Reading, ReadingNote, Step, Stimulus, TakeNote } from '../core/types.gen';
import type { Setup } from './analysis';
import type { ListenPlan, PlayPlan } from './hands';

export interface BenchOf {
  impedance: ImpedanceBench;
  knock: KnockBench;
}
export type CheckName = keyof BenchOf;

/** What a person picked on the practice bench. */
export interface PracticePick {
  driver: string;
  fault: Fault;
  sensor: 'coil' | 'microphone';
}

/** Calls that are on their way into the client, in the shapes that they will have. */
interface Coming {
  analyse(setup: Setup, takes: PageTake[], options?: { signal?: AbortSignal }): Promise<Reading>;
  spotKnocks(take: PageTake, channel: number): Promise<KnockNote[]>;
  noteTake(id: string, action: Action, take: PageTake): Promise<TakeNote>;
  practiceDrivers(): Promise<PracticeDriver[]>;
  practiceFaults(): Promise<PracticeFault[]>;
  practicePlay(request: { driver: string; fault: Fault; position: Position; rate_hz: number; seed: number }, samples: Float32Array): Promise<PageTake>;
  practiceKnock(request: { driver: string; fault: Fault; sensor: 'coil' | 'microphone'; knocks: number; load_ohm: number | null; added_mass_kg: number; rate_hz: number; seed: number }): Promise<PageTake>;
  readWav(bytes: Uint8Array): Promise<PageTake | { take: PageTake }>;
  writeWav(take: PageTake, format: string): Promise<Uint8Array>;
}
const coming = core as unknown as Coming;

export type Fault = string;
export interface PracticeFault {
  fault: Fault;
  for_impedance: boolean;
  for_knock: boolean;
}
export interface PracticeDriver {
  id: string;
  name: string;
  truth: Record<string, number>;
}
type Position = { kind: 'driver' | 'same_node' | 'short' | 'open' } | { kind: 'known_resistor'; resistor_ohm: number };

export function stepOf<C extends CheckName>(check: C, bench: BenchOf[C], history: Happening[]): Promise<Step> {
  return check === 'impedance' ? core.step('impedance', bench as ImpedanceBench, history) : core.step('knock', bench as KnockBench, history);
}

export const analyse = (setup: Setup, takes: PageTake[], signal?: AbortSignal) => coming.analyse(setup, takes, signal ? { signal } : undefined);
export const renderStimulus = (stimulus: Stimulus) => core.render(stimulus);
export const spotKnocks = (take: PageTake, channel: number) => coming.spotKnocks(take, channel);
export const noteOfTake = (id: string, action: Action, take: PageTake) => coming.noteTake(id, action, take);
export const writeWav = (take: PageTake) => coming.writeWav(take, 'float32');

export async function readWav(bytes: Uint8Array): Promise<PageTake> {
  const read = await coming.readWav(bytes);
  return 'take' in read ? read.take : read;
}

export const practiceDrivers = () => coming.practiceDrivers();
export const practiceFaults = () => coming.practiceFaults();

/** Plays that look for a level or prove the input straight have roles of their own; the driver is connected in them. */
function positionOf(plan: PlayPlan): Position {
  if (plan.role === 'known_resistor') return { kind: 'known_resistor', resistor_ohm: plan.resistorOhm ?? 10 };
  return plan.role === 'same_node' || plan.role === 'short' || plan.role === 'open' ? { kind: plan.role } : { kind: 'driver' };
}

export function practicePlay(pick: PracticePick, plan: PlayPlan, rateHz: number, seed: number): Promise<PageTake> {
  // A real input lags and runs on; silence after the end is what is heard then.
  const played = new Float32Array(plan.samples.length + Math.round(plan.tailS * rateHz));
  played.set(plan.samples);
  return coming.practicePlay({ driver: pick.driver, fault: pick.fault, position: positionOf(plan), rate_hz: rateHz, seed }, played);
}

export function practiceKnock(pick: PracticePick, plan: ListenPlan, rateHz: number, seed: number): Promise<PageTake> {
  return coming.practiceKnock({ driver: pick.driver, fault: pick.fault, sensor: pick.sensor, knocks: plan.wantedKnocks + 2, load_ohm: plan.loadOhm, added_mass_kg: plan.addedMassKg ?? 0, rate_hz: rateHz, seed });
}

/** True figures of a practice driver; none where the fault changes the driver itself, as they then belong to another one. */
export async function practiceTruth(practice: { driver: string; fault: string }): Promise<Record<string, number> | undefined> {
  const changed = ['shorted_turns', 'rub', 'stiff_surround', 'heavy_cone', 'weak_magnet'];
  if (changed.includes(practice.fault)) return undefined;
  const driver = (await practiceDrivers()).find((d) => d.id === practice.driver);
  return driver && { ...driver.truth };
}

/** What the procedure hears of a reading. */
export function noteOfReading(takes: string[], reading: Reading): ReadingNote {
  const values = Object.fromEntries(Object.entries(reading.values).map(([name, figure]) => [name, figure?.value ?? 0]));
  return { takes, outcome: reading.outcome, refusal: reading.refusal, warnings: reading.warnings.map((w) => w.code), values };
}
