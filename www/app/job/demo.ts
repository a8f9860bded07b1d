// The demo job: an invented workshop with an invented pair. Its readings are taken on the practice bench while the person
// waits, by the simulator and the very analysis that a live take goes through; nothing in it is written down beforehand but
// what a person would type.
import { setupWithTakes, type Setup } from '../bench/analysis';
import { analyse, renderStimulus } from '../bench/core_calls';
import { core } from '../core/client';
import type { CoilEntry, Fault, Look, PageTake, Part, Phase, Position, Reference, Stimulus, TakeUse } from '../core/types.gen';
import { demoWords as w } from '../words/demo';
import { filed } from './filing';
import { newJob, newPart, saveJob, withPart } from './jobs';
import { keepReading, keepTake } from './keeping';

const RATE_HZ = 48_000;
const KNOWN_OHM = 8.2;
const SWEEP: Stimulus = { shape: 'sweep', rate_hz: RATE_HZ, period_s: 1, periods: 6, low_hz: 10, high_hz: 20_000, peak_dbfs: -12, seed: 1, travel_shape: null };
const JIG: Setup = { check: 'impedance', series_resistor_ohm: 47, series_resistor_relative_uncertainty: 0.01 / Math.sqrt(3), source_channel: 1, driver_channel: 2, input_resistance_ohm: 47_000 };

interface Planned {
  part: Part;
  driver: 'twelve' | 'six';
  /** One reading each, in the order in which they are taken. */
  readings: { kind: 'impedance' | 'knock' | 'polarity'; fault: Fault; phase: Phase; note?: string }[];
}

/** Makes the job and its readings; `onProgress` hears the share that is done. Answers the job's id. */
export async function makeDemo(onProgress: (done: number) => void): Promise<string> {
  const plan = planned();
  const steps = 3 + plan.reduce((sum, p) => sum + p.readings.length, 0);
  let done = 0;
  const step = () => onProgress(++done / steps);
  let job = await saveJob(newJob({ ...w.job, received_on: daysAgo(17), parts: plan.map((p) => p.part) }));
  const calibration = await calibrate(step);
  let seed = 10;
  for (const { part, driver, readings } of plan) {
    for (const { kind, fault, phase, note } of readings) {
      const practice = { driver, fault, seed: seed++ };
      const kept = await (kind === 'impedance' ? impedance(practice, part, calibration) : kind === 'knock' ? knock(practice, part) : push(practice, part));
      job = filed(job, part.id, kept, phase);
      job = withPart(job, part.id, (p) => ({ ...p, filed: p.filed.map((f) => (f.reading === kept.id ? { ...f, note: note ?? '', conditions: { temperature_c: 21, level_v: kind === 'impedance' ? 0.1 : null, rest_min: 30, attitude: 'face_up', break_in_h: null } } : f)) }));
      job = await saveJob(job);
      step();
    }
  }
  return job.id;
}

interface Practice {
  driver: string;
  fault: Fault;
  seed: number;
}

interface Used {
  use: TakeUse;
  take: PageTake;
}

/** Both inputs on one clip, a known resistor, the leads: once for all drivers of the day. */
async function calibrate(step: () => void): Promise<Used[]> {
  const out: Used[] = [];
  const positions: [string, Position][] = [
    ['same_node', { kind: 'same_node' }],
    ['known_resistor', { kind: 'known_resistor', resistor_ohm: KNOWN_OHM }],
    ['short', { kind: 'short' }],
  ];
  for (const [i, [role, position]] of positions.entries()) {
    out.push(await played({ driver: 'twelve', fault: 'none', seed: i + 1 }, role, position, w.jig));
    step();
  }
  return out;
}

async function played(practice: Practice, role: string, position: Position, partName: string): Promise<Used> {
  const samples = await renderStimulus(SWEEP);
  const take = await core.practicePlay({ ...practice, position, scene: 'jig', added_mass_kg: null, box_volume_m3: null, rate_hz: RATE_HZ }, samples);
  return kept(practice, 'impedance', role, take, partName, role === 'known_resistor' ? KNOWN_OHM : null);
}

async function kept(practice: Practice, check: string, role: string, take: PageTake, partName: string, resistor_ohm: number | null): Promise<Used> {
  const about = { role, resistor_ohm, load_ohm: null, added_mass_kg: null, box_volume_m3: null };
  const id = await keepTake(take, { check, partName, source: 'practice', practice, ...about });
  return { use: { id, ...about, set_aside: [] }, take };
}

async function read(practice: Practice, setup: Setup, used: Used[], part: Part) {
  const reading = await analyse(setupWithTakes(setup, used.map((u) => u.use)), used.map((u) => u.take));
  return keepReading({ check: String(setup['check']), partName: w.partName(part), note: '', source: 'practice', takes: used.map((u) => u.use), setup, reading, practice });
}

async function impedance(practice: Practice, part: Part, calibration: Used[]) {
  return read(practice, JIG, [await played(practice, 'driver', { kind: 'driver' }, w.partName(part)), ...calibration], part);
}

async function knock(practice: Practice, part: Part) {
  const take = await core.practiceKnock({ ...practice, sensor: 'coil', knocks: 7, load_ohm: null, added_mass_kg: 0, box_volume_m3: null, rate_hz: RATE_HZ });
  return read(practice, { check: 'knock', sensor: 'coil', channel: 1, input_resistance_ohm: 47_000 }, [await kept(practice, 'knock', 'free', take, w.partName(part), null)], part);
}

/** A cell tells the input's sign, then the cone is pushed in. */
async function push(practice: Practice, part: Part) {
  const nothing = new Float32Array(13 * RATE_HZ);
  const by = async (scene: 'cell' | 'push', role: string) => {
    const take = await core.practicePlay({ ...practice, position: { kind: 'driver' }, scene, added_mass_kg: null, box_volume_m3: null, rate_hz: RATE_HZ }, nothing);
    return kept(practice, 'polarity', role, take, w.partName(part), null);
  };
  return read(practice, { check: 'polarity', method: 'push', channel: 1 }, [await by('cell', 'cell'), await by('push', 'driver')], part);
}

function daysAgo(days: number): string {
  return new Date(Date.now() - days * 86_400_000).toISOString().slice(0, 10);
}

const reference = (name: string, value: number, below: number, above: number, common_practice = true): Reference => ({ name, value, below, above, common_practice, kind: 'published', source: w.source });
const BASS = [reference('f_s_hz', 26, 0.15, 0.1), reference('q_ts', 0.41, 0.2, 0.2), reference('r_e_ohm', 5.6, 0.05, 0.05)];
/** The owner asked for a narrow R_e: narrower than this jig can prove. */
const MID = [reference('f_s_hz', 48, 0.15, 0.1), reference('q_ts', 0.48, 0.2, 0.2), reference('r_e_ohm', 6.2, 0.01, 0.01, false)];

const POINTS = ['glue_line', 'surround_seating', 'dust_cap', 'gasket', 'lead_outs', 'straight_push', 'terminals', 'frame'];

/** All points sound but those named. */
function looks(others: Partial<Record<string, Pick<Look, 'finding' | 'note'>>> = {}): Look[] {
  return POINTS.map((point) => ({ point, finding: 'sound', note: '', photos: [], at_ms: Date.now(), ...others[point] }));
}

function coil(shown_ohm: number[]): CoilEntry {
  return { shown_ohm, moved_ohm: [], leads_ohm: 0.1, meter_percent: 0.5, meter_ohm: 0.02, temperature_c: 21, to_frame_megohm: 40, to_frame_over_range: true, over_range: false, phase: 'returned', at_ms: Date.now(), note: '' };
}

function planned(): Planned[] {
  const order = { wanted: true, work: w.order.work, surround: w.order.surround, roll: w.order.roll, leave_cap: true, sent_on: daysAgo(15), returned_on: daysAgo(2) };
  const bass = { band: 'bass', model: w.models.bass, rated_impedance_ohm: 8, references: BASS, order };
  const mid = { band: 'mid-bass', model: w.models.mid, rated_impedance_ohm: 8, references: MID, order };
  return [
    {
      part: newPart({ ...bass, side: 'left', mark: 'A', looks: looks(), coils: [coil([5.73, 5.74, 5.73])] }),
      driver: 'twelve',
      readings: [
        { kind: 'impedance', fault: 'heavy_cone', phase: 'as_found', note: w.notes.oldGlue },
        { kind: 'polarity', fault: 'none', phase: 'returned' },
        { kind: 'knock', fault: 'none', phase: 'returned' },
        { kind: 'impedance', fault: 'none', phase: 'returned' },
      ],
    },
    {
      part: newPart({ ...bass, side: 'right', mark: 'B', looks: looks(), coils: [coil([5.72, 5.73, 5.73])] }),
      driver: 'twelve',
      readings: [
        { kind: 'polarity', fault: 'none', phase: 'returned' },
        { kind: 'knock', fault: 'stiff_surround', phase: 'returned' },
        { kind: 'impedance', fault: 'stiff_surround', phase: 'returned' },
      ],
    },
    {
      part: newPart({ ...mid, side: 'left', mark: 'C', looks: looks({ dust_cap: { finding: 'unclear', note: w.notes.cap } }), overrides: [{ check: 'look', verdict: 'pass', reason: w.notes.capReason, by: w.job.technician, at_ms: Date.now() }], coils: [coil([6.28, 6.29, 6.28])] }),
      driver: 'six',
      readings: [{ kind: 'knock', fault: 'none', phase: 'returned' }, { kind: 'impedance', fault: 'none', phase: 'returned' }],
    },
    {
      part: newPart({ ...mid, side: 'right', mark: 'D', looks: looks({ lead_outs: { finding: 'fault', note: w.notes.lead } }), coils: [coil([6.29, 6.29, 6.3])] }),
      driver: 'six',
      readings: [{ kind: 'impedance', fault: 'gain_riding', phase: 'returned' }],
    },
  ];
}
