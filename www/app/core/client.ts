// The core as the page sees it: every call a promise. Setups and answers are the generated types.
import { startCoreWorker } from '../one_file';
import { CoreQueue, type CallOptions } from './queue';
import type {
  Action,
  BreakInSetup,
  Check,
  CoilQuestion,
  Core,
  DiagnosisSetup,
  Format,
  Happening,
  HistorySetup,
  MatchSetup,
  OverviewRequest,
  PageTake,
  PartKind,
  PracticeKnock,
  PracticeMeter,
  PracticePair,
  PracticePlay,
  Step,
  Stimulus,
} from './types.gen';

export { CoreError, type CallOptions, type Progress } from './queue';
export type { PageTake } from './types.gen';

const queue = new CoreQueue(() => startCoreWorker('core'));
/** The simulator works in a worker of its own, beside the reading of what it has played. */
const practice = new CoreQueue(() => startCoreWorker('practice'));

/** Tells when the core has panicked; it has been replaced by then, and nothing recorded was in it. */
export function onCoreDied(listener: (message: string) => void): void {
  queue.onDied = listener;
  practice.onDied = listener;
}

/** What the core reads from it is checked there, field by field. */
export interface AnalysisSetup {
  check: Check;
  takes: { role: string; [field: string]: unknown }[];
  [field: string]: unknown;
}

export type BenchOf = { [C in Check]: Parameters<Core[`step_${C}`]>[0] };

function step<C extends Check>(check: C, bench: BenchOf[C], history: Happening[], options?: CallOptions): Promise<Step> {
  return queue.call(`step_${check}`, [bench, history] as Parameters<Core[`step_${C}`]>, options) as Promise<Step>;
}

export const core = {
  version: (options?: CallOptions) => queue.call('version', [], options),
  /** What to show and do next; the same history gives the same step for ever. */
  step,
  /** Samples of all periods at the stimulus' own rate and level. */
  render: (stimulus: Stimulus, options?: CallOptions) => queue.call('render', [stimulus], options),
  practiceDrivers: (options?: CallOptions) => practice.call('practice_drivers', [], options),
  practiceFaults: (options?: CallOptions) => practice.call('practice_faults', [], options),
  /** What both inputs hear while the samples are played; as many come back. */
  practicePlay: (request: PracticePlay, samples: Float32Array, options?: CallOptions) =>
    practice.call('practice_play', [request, samples], options),
  practiceKnock: (request: PracticeKnock, options?: CallOptions) => practice.call('practice_knock', [request], options),
  practicePair: (request: PracticePair, options?: CallOptions) => practice.call('practice_pair', [request], options),
  /** True figures of a practice driver and its sister, by the names of the reading. */
  practicePairTruth: (driver: string) => practice.call('practice_pair_truth', [driver]),
  practiceMeter: (request: PracticeMeter, options?: CallOptions) => practice.call('practice_meter', [request], options),
  readWav: (bytes: Uint8Array, options?: CallOptions) => queue.call('read_wav', [bytes], options),
  writeWav: (take: PageTake, format: Format, options?: CallOptions) => queue.call('write_wav', [take, format], options),
  /** Channels counted from 1; knocks of both in order of time where there is a second one. */
  spotKnocks: (take: PageTake, channel: number, second: number | null, options?: CallOptions) => queue.call('spot_knocks', [take, channel, second], options),
  assess: (take: PageTake, options?: CallOptions) => queue.call('assess', [take], options),
  /** What the procedure wants to know of a take that was recorded for `action`. */
  noteTake: (id: string, action: Action, take: PageTake, options?: CallOptions) => queue.call('take_note', [id, action, take], options),
  /** The setup of the headless contract, without files; `takes` in the order of the setup's entries. */
  analyse: (setup: AnalysisSetup, takes: PageTake[], options?: CallOptions) =>
    queue.call(`analyse_${setup.check}`, [JSON.stringify(setup), takes], options),
  /** A measured curve as a Touchstone file of one port. */
  writeTouchstone: (...args: Parameters<Core['files_touchstone']>) => queue.call('files_touchstone', args),
  /** A fitted circuit as a SPICE subcircuit. */
  writeSpice: (...args: Parameters<Core['files_spice']>) => queue.call('files_spice', args),
  /** What is printed on a resistor. */
  readBands: (colours: string[]) => queue.call('resistor_bands', [colours]),
  readLetters: (text: string) => queue.call('resistor_letters', [text]),
  /** What to take where a resistance is not at hand, the nearest last. */
  insteadOf: (wantedOhm: number) => queue.call('resistor_instead_of', [wantedOhm]),
  /** The limits within a pair to start from. */
  pairLimits: () => queue.call('match_limits', []),
  /** The best pairing of a set of parts, and what the others cost. */
  matchParts: (setup: MatchSetup) => queue.call('match_parts', [setup]),
  /** A job from the text of its record, whatever version wrote it; rejects with what is wrong in it and what to do. */
  readJob: (json: string) => queue.call('job_read', [json]),
  /** Two records of one job as one. */
  mergeJobs: (one: string, two: string) => queue.call('job_merge', [one, two]),
  /** Verdicts, differences and the next step of a job. */
  jobOverview: (request: OverviewRequest) => queue.call('job_overview', [request]),
  /** How far a figure may lie from its reference, by common practice. */
  tolerances: () => queue.call('job_tolerances', []),
  /** What a part suffers from, by how it differs from its partner, an earlier reading or published figures. */
  diagnose: (setup: DiagnosisSetup) => queue.call('job_diagnose', [setup]),
  /** Two readings of one part: what can be compared, why not, and what changed. */
  compareHistory: (setup: HistorySetup) => queue.call('job_compare_history', [setup]),
  /** Whether break-in has come to its end. */
  breakIn: (setup: BreakInSetup) => queue.call('job_break_in', [setup]),
  /** What the papers say of a job as a whole. */
  jobSummary: (request: OverviewRequest) => queue.call('job_summary', [request]),
  /** Points of a part that are looked at, by name. */
  lookPoints: (kind: PartKind) => queue.call('job_look_points', [kind]),
  /** R_e by a meter at 20 °C, coil to frame, and what the readings hint at. */
  judgeCoil: (question: CoilQuestion) => queue.call('job_coil', [question]),
  /** For tests only: proves that a panic is reported and survived. */
  panicOnPurpose: () => queue.call('panic_on_purpose', []),
};
