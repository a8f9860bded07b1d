// Leads through a check: asks the core for the step that follows from what happened, carries out its action, appends
// what came of it. It decides nothing itself and knows no screen.
import type { Level } from '../audio/level';
import type { Action, Answer, Happening, KnockNote, PageTake, Step } from '../core/types.gen';
import { keepReading, keepTake, type KeptReading, type Place } from '../job/keeping';
import type { PracticeOrigin } from '../store/store';
import { checkWords } from '../words/check';
import { readTakes, setupOf, type Setup } from './analysis';
import { noteOfReading, noteOfTake, renderStimulus, spotKnocks, stepOf, type BenchOf, type CheckName } from './core_calls';
import type { Ear, Hands, HeardTake } from './hands';
import { rememberInput } from './polarity/input_sign';
import { ringOf, shapeOf } from './rings';
import { keepRefusal, originOf, RunKeeping, type Resume } from './run_keeping';

type Of<K extends Action['kind']> = Extract<Action, { kind: K }>;

export interface Running {
  kind: 'play' | 'listen' | 'analyse' | 'prepare';
  label: string;
  beganAt: number;
  /** Clock seconds that it takes, where known. */
  seconds?: number;
}

export interface CheckState {
  step?: Step;
  running?: Running;
  level?: Level;
  /** Knocks of the running take, and their rings for the slots. */
  knocks: KnockNote[];
  rings: (Float32Array | undefined)[];
  /** Said once, for instance after STOP. */
  said?: string;
  fault?: string;
  kept?: KeptReading;
  takesCount: number;
  /** The tone of the step sounds. */
  sounding?: boolean;
  /** The step that stands there is answered: the next one is awaited, or the core did not give it. */
  next?: 'awaited' | 'failed';
}

export interface CheckOptions<C extends CheckName> {
  check: C;
  bench: BenchOf[C];
  hands: Hands;
  partName: string;
  practice: PracticeOrigin | undefined;
  /** The part of a job that it is taken for. */
  place?: Place | undefined;
  /** Further fields of the setup. */
  extra?: Setup;
  resume?: Resume;
}

/** What was connected while a take ran. */
interface Connected {
  role: string;
  resistor_ohm: number | null;
  load_ohm: number | null;
  added_mass_kg: number | null;
  box_volume_m3: number | null;
}

export class CheckRunner {
  state: CheckState;
  private history: Happening[];
  private readonly takes: Map<string, PageTake>;
  private readonly keeping: RunKeeping;
  private abort = new AbortController();
  private ear: Ear | undefined;
  private busy = false;
  /** STOP was pressed, and nothing since. */
  private held = false;
  private asked = 0;
  /** Counts the tones, so that one that was overtaken does not begin. */
  private tones = 0;
  /** The question that the step in the state answers. */
  private answered = 0;
  private closed = false;
  private readonly ends: (() => void)[];

  constructor(
    private readonly options: CheckOptions<CheckName>,
    private readonly onChange: () => void,
  ) {
    this.history = options.resume?.run.history ?? [];
    this.takes = options.resume?.takes ?? new Map<string, PageTake>();
    this.state = { knocks: [], rings: [], takesCount: this.takes.size, next: 'awaited' };
    this.keeping = new RunKeeping(options);
    this.ends = [options.hands.watch((level) => this.set({ level })), options.hands.onTrouble((said) => this.set({ said }))];
    void this.ask();
  }

  close(): void {
    this.closed = true;
    this.abort.abort();
    this.options.hands.stop();
    this.ends.forEach((end) => end());
  }

  confirm(answers: Record<string, Answer>): void {
    const { action } = this.state.step ?? {};
    // A reading belongs to its tone.
    const tone: Record<string, Answer> = action?.kind === 'sound' ? { frequency_hz: action.stimulus.low_hz } : {};
    this.pressed((step) => this.append({ kind: 'confirmed', step, answers: { ...tone, ...answers } }));
  }

  choose(choice: string): void {
    this.pressed((step) => this.append({ kind: 'chosen', step, choice }));
  }

  stepBack(): void {
    this.pressed(() => this.append({ kind: 'stepped_back' }));
  }

  /** Asks once more for a step that did not come. */
  askAgain(): void {
    this.set({ fault: undefined });
    void this.ask();
  }

  /** The tone of the step, and those that follow, until STOP. */
  async sound(): Promise<void> {
    const { action } = this.state.step ?? {};
    if (action?.kind !== 'sound') return;
    const mine = ++this.tones;
    this.set({ sounding: true, said: undefined, fault: undefined });
    try {
      const samples = await renderStimulus({ ...action.stimulus, rate_hz: this.options.hands.rateHz });
      if (mine === this.tones && !this.closed) await this.options.hands.sound?.(samples, action.stimulus.period_s);
    } catch (error) {
      if (mine === this.tones) this.set({ sounding: false, fault: messageOf(error) });
    }
  }

  /** Silence at once; what runs is void. */
  stop(): void {
    this.options.hands.stop();
    this.tones += 1;
    if (this.state.sounding) this.set({ sounding: false });
    this.abort.abort();
    // Also between two takes of a series, when nothing runs: it does not go on before a press.
    this.held = true;
    const { running, step } = this.state;
    const inSeries = step?.action.kind === 'play' && step.action.by_itself;
    if (running?.kind === 'analyse') this.set({ said: checkWords.stoppedReading });
    else if (running || inSeries) this.set({ said: checkWords.stopped });
  }

  /** Ends the listening; its knocks count. */
  keepKnocks(): void {
    this.ear?.stop();
  }

  setLastAside(): void {
    const last = this.state.knocks.reduce((found, k, i) => (k.set_aside ? found : i + 1), 0);
    if (last > 0) this.append({ kind: 'set_aside', take: '', knock: last });
  }

  /** Carries out the action of the step, at a press. */
  go(): void {
    this.pressed(() => this.carryOut());
  }

  /** A press belongs to the step that stands there. One that is answered already takes none: a second click would begin
   * a second round, or a take of a step that is done. */
  private pressed(act: (step: string) => void): void {
    if (!this.state.step || this.state.next === 'awaited') return;
    this.held = false;
    act(this.state.step.id);
  }

  private carryOut(): void {
    const { step } = this.state;
    if (!step) return;
    const { action } = step;
    if (action.kind === 'play') void this.guarded(() => this.play(step, action));
    else if (action.kind === 'listen') void this.guarded(() => this.listen(step, action));
    else if (action.kind === 'analyse') void this.guarded(() => this.analyse(step, action));
  }

  private set(more: Partial<CheckState>): void {
    if (this.closed) return;
    this.state = { ...this.state, ...more };
    this.onChange();
  }

  /** `ends` where nothing of the road is left but the reading. */
  private append(happening: Happening, ends = happening.kind === 'finished'): void {
    this.history = [...this.history, happening];
    this.keeping.note(this.history, ends);
    void this.ask();
  }

  /** The step that follows; an answer that was overtaken by a later happening is dropped. */
  private async ask(): Promise<void> {
    const mine = ++this.asked;
    if (this.state.next !== 'awaited') this.set({ next: 'awaited' });
    try {
      const step = await stepOf(this.options.check, this.options.bench, this.history);
      if (mine !== this.asked || this.closed) return;
      this.answered = mine;
      this.arrived(step);
    } catch (error) {
      if (mine === this.asked) this.set({ fault: messageOf(error), next: 'failed' });
    }
  }

  private arrived(step: Step): void {
    const before = this.state.step;
    this.set({ step, next: undefined });
    if (step.action.kind === 'refuse' && step.stage !== 'read' && before?.id !== step.id) {
      void keepRefusal(this.options, this.history, step.action.notice).then((kept) => kept && this.set({ kept }));
    }
    if (step.action.kind === 'listen' && step.action.end_after_s !== null) this.endAfter(step.action.end_after_s);
    if (this.state.sounding) this.followTone(before, step);
    this.goByItself(step);
  }

  /** The next tone takes the place of the one before; after the last one there is silence. */
  private followTone(before: Step | undefined, { action }: Step): void {
    const same = before?.action.kind === 'sound' && JSON.stringify(before.action) === JSON.stringify(action);
    if (action.kind === 'sound') return same ? undefined : void this.sound();
    this.options.hands.stop();
    this.tones += 1;
    this.set({ sounding: false });
  }

  /** Analyses and the next level of a series need no press; but nothing sounds on opening a check that was left. */
  private goByItself({ action }: Step): void {
    const justResumed = this.history === this.options.resume?.run.history;
    if (!this.busy && !this.held && (action.kind === 'analyse' || (action.kind === 'play' && action.by_itself && !justResumed))) this.carryOut();
  }

  /** Enough was heard: the take ends by itself, once. */
  private endAfter(seconds: number): void {
    const { ear } = this;
    if (ear) setTimeout(() => ear.stop(), (seconds * 1000) / this.options.hands.speed);
  }

  private async guarded(work: () => Promise<void>): Promise<void> {
    if (this.busy) return;
    this.busy = true;
    this.abort = new AbortController();
    this.set(this.held ? { fault: undefined } : { fault: undefined, said: undefined });
    try {
      await work();
    } catch (error) {
      if (!this.abort.signal.aborted) this.set({ fault: messageOf(error) });
    } finally {
      this.busy = false;
      this.ear = undefined;
      this.set({ running: undefined, level: undefined });
      // The next step may have come while this one was still being put away; one that is still awaited goes by itself.
      const isNext = this.answered === this.asked && !this.state.fault && !this.abort.signal.aborted;
      if (this.state.step && isNext) this.goByItself(this.state.step);
    }
  }

  private began(kind: Running['kind'], label: string, seconds?: number): void {
    this.set({ running: { kind, label, beganAt: performance.now(), ...(seconds === undefined ? {} : { seconds }) } });
  }

  private async play(step: Step, action: Of<'play'>): Promise<void> {
    const { hands } = this.options;
    const { stimulus, role, tail_s, resistor_ohm, added_mass_kg, box_volume_m3 } = action;
    this.began('prepare', checkWords.rendering);
    const samples = await renderStimulus({ ...stimulus, rate_hz: hands.rateHz });
    if (this.abort.signal.aborted) return this.stopped(step);
    this.began('play', '', (samples.length / hands.rateHz + tail_s) / hands.speed);
    const { signal } = this.abort;
    const take = await hands.play({ stimulus, role, resistorOhm: resistor_ohm, addedMassKg: added_mass_kg, boxVolumeM3: box_volume_m3, samples, tailS: tail_s, onLevel: (level) => this.set({ level }), signal });
    await this.took(step, take, { role, resistor_ohm, load_ohm: null, added_mass_kg, box_volume_m3 });
  }

  private async listen(step: Step, action: Of<'listen'>): Promise<void> {
    const { channel, second_channel, wanted_knocks, max_s, load_ohm, added_mass_kg, box_volume_m3 } = action;
    this.began('prepare', checkWords.preparing);
    this.set({ knocks: [], rings: [] });
    const { signal } = this.abort;
    const look = this.looker(step, channel, second_channel);
    this.ear = await this.options.hands.listen({ channel, secondChannel: second_channel, wantedKnocks: wanted_knocks, maxS: max_s, loadOhm: load_ohm, addedMassKg: added_mass_kg, boxVolumeM3: box_volume_m3, onLevel: (level) => this.set({ level }), onHeard: (take) => void look(take), signal });
    this.began('listen', '');
    await this.took(step, await this.ear.done, { role: 'free', resistor_ohm: null, load_ohm, added_mass_kg, box_volume_m3 });
  }

  /** Looks through what was heard so far, one look at a time, and tells where the list of knocks has changed. */
  private looker(step: Step, channel: number, second: number | null): (soFar: PageTake) => Promise<void> {
    let looking = false;
    let told = shapeOf([]);
    return async (soFar) => {
      if (looking) return;
      looking = true;
      try {
        const knocks = await spotKnocks(soFar, channel, second);
        this.set({ knocks, rings: knocks.map((k) => ringOf(soFar, k.channel, k)) });
        if (shapeOf(knocks) !== told && this.ear) this.append({ kind: 'heard', step: step.id, knocks });
        told = shapeOf(knocks);
      } catch {
        // A look that fails costs nothing: the whole take is looked through at its end.
      } finally {
        looking = false;
      }
    };
  }

  private async took(step: Step, take: HeardTake, connected: Connected): Promise<void> {
    if (this.abort.signal.aborted) return this.stopped(step);
    if (take.voided) {
      this.set({ said: take.voided });
      return this.append({ kind: 'voided', step: step.id, reason: take.voided });
    }
    this.ear = undefined;
    this.began('prepare', checkWords.preparing);
    const { check, partName, hands, practice } = this.options;
    const plain: PageTake = { rateHz: take.rateHz, channels: take.channels };
    const stimulus = step.action.kind === 'play' ? { stimulus: step.action.stimulus } : {};
    const id = await keepTake(plain, { check, partName, source: hands.kind, ...connected, ...stimulus, ...(take.facts ? { facts: take.facts } : {}), ...(practice ? { practice } : {}) });
    this.takes.set(id, plain);
    this.set({ takesCount: this.takes.size });
    this.append({ kind: 'took', step: step.id, take: await noteOfTake(id, step.action, plain) });
  }

  private stopped(step: Step): void {
    this.set({ said: checkWords.stopped });
    this.append({ kind: 'voided', step: step.id, reason: checkWords.stoppedReason });
  }

  private async analyse(step: Step, action: Of<'analyse'>): Promise<void> {
    const { check, bench, partName, hands, extra } = this.options;
    this.began('analyse', checkWords.analysing);
    const typed = check === 'meter' ? { readings: step.readings } : {};
    const setup = setupOf(check, bench, { ...extra, ...action.fields, ...typed });
    const reading = await readTakes(setup, action.takes, this.takes, this.abort.signal);
    // In the middle of a road a look at the takes leads on; it is no reading.
    const isReading = step.stage === 'read';
    if (isReading) {
      const kept = await keepReading({ check, partName, note: '', source: hands.kind, takes: action.takes, setup, reading, ...originOf(this.options) });
      this.set({ kept });
      if (hands.kind === 'live') void rememberInput(hands.inputLabel, reading);
    }
    this.append({ kind: 'read', reading: noteOfReading(action.takes.map((t) => t.id), reading) }, isReading);
  }
}

const messageOf = (error: unknown) => (error instanceof Error ? error.message : String(error));
