// Leads through a check: asks the core for the step that follows from what happened, carries out its action, appends
// what came of it. It decides nothing itself.
import { useCallback, useEffect, useMemo, useReducer, useRef, useState } from 'preact/hooks';
import type { Level } from '../audio/level';
import type { Action, Answer, Happening, KnockNote, PageTake, Step, TakeUse } from '../core/types.gen';
import { checkWords } from '../words/check';
import { noteOfReading, noteOfTake, refusalReading, renderStimulus, spotKnocks, stepOf, type BenchOf, type CheckName } from './core_calls';
import { readTakes, setupOf, type Setup } from './analysis';
import type { Ear, Hands, HeardTake } from './hands';
import { endRun, keepReading, keepRun, keepTake, type KeptReading, type KeptRun } from '../job/keeping';
import { newId, type PracticeOrigin } from '../store/store';

type Of<K extends Action['kind']> = Extract<Action, { kind: K }>;

export interface Running {
  kind: 'play' | 'listen' | 'analyse' | 'prepare';
  label: string;
  beganAt: number;
  /** Clock seconds that it takes, where known. */
  seconds?: number;
}

export interface CheckRun {
  step: Step | undefined;
  running: Running | undefined;
  level: Level | undefined;
  /** Knocks of the running take. */
  knocks: KnockNote[];
  /** Rings of the running take, for the slots. */
  rings: (Float32Array | undefined)[];
  /** Said once, for instance after STOP. */
  said: string | undefined;
  fault: string | undefined;
  kept: KeptReading | undefined;
  takes: Map<string, PageTake>;
  takesCount: number;
  confirm: (answers: Record<string, Answer>) => void;
  choose: (id: string) => void;
  stepBack: () => void;
  /** Carries out the action of the step. */
  go: () => void;
  stop: () => void;
  keepKnocks: () => void;
  setLastAside: () => void;
}

export interface CheckOptions<C extends CheckName> {
  check: C;
  bench: BenchOf[C];
  hands: Hands;
  partName: string;
  practice: PracticeOrigin | undefined;
  extra?: Setup;
  /** A check under way that goes on. */
  resume?: { run: KeptRun; takes: Map<string, PageTake> };
}

export function useCheck<C extends CheckName>({ check, bench, hands, partName, practice, extra = {}, resume }: CheckOptions<C>): CheckRun {
  const [history, append] = useReducer((past: Happening[], more: Happening) => [...past, more], resume?.run.history ?? []);
  const [step, setStep] = useState<Step>();
  const [running, setRunning] = useState<Running>();
  const [level, setLevel] = useState<Level>();
  const [knocks, setKnocks] = useState<KnockNote[]>([]);
  const [rings, setRings] = useState<(Float32Array | undefined)[]>([]);
  const [said, setSaid] = useState<string>();
  const [fault, setFault] = useState<string>();
  const [kept, setKept] = useState<KeptReading>();
  const [takesCount, setTakesCount] = useState(resume?.takes.size ?? 0);
  const takes = useMemo(() => resume?.takes ?? new Map<string, PageTake>(), []);
  const runId = useMemo(() => resume?.run.id ?? newId(), []);
  const abort = useRef(new AbortController());
  const ear = useRef<Ear>();
  const asked = useRef(0);
  const busy = useRef(false);

  // The step that follows; an answer that was overtaken by a later happening is dropped.
  useEffect(() => {
    const mine = ++asked.current;
    stepOf(check, bench, history).then(
      (next) => mine === asked.current && setStep(next),
      (error: Error) => mine === asked.current && setFault(error.message),
    );
  }, [history]);

  // From the first take on the check can be left and taken up again, until it is read.
  useEffect(() => {
    const last = history[history.length - 1];
    if (!last || last.kind === 'heard' || takes.size === 0 || (resume && history === resume.run.history)) return;
    if (last.kind === 'read' || last.kind === 'finished') return void endRun(runId);
    const kept = history.filter((h, i) => h.kind !== 'heard' || history[i + 1]?.kind === 'took');
    void keepRun({ id: runId, createdAt: resume?.run.createdAt ?? Date.now(), changedAt: Date.now(), check, partName, source: hands.kind, bench: { ...bench }, history: kept, ...(practice ? { practice } : {}) });
  }, [history]);

  useEffect(() => {
    const ends = [hands.watch(setLevel), hands.onTrouble(setSaid)];
    return () => ends.forEach((end) => end());
  }, []);

  useEffect(
    () => () => {
      abort.current.abort();
      hands.stop();
    },
    [],
  );

  const guarded = useCallback(async (work: () => Promise<void>) => {
    if (busy.current) return;
    busy.current = true;
    abort.current = new AbortController();
    setFault(undefined);
    setSaid(undefined);
    try {
      await work();
    } catch (error) {
      if (!abort.current.signal.aborted) setFault(error instanceof Error ? error.message : String(error));
    } finally {
      busy.current = false;
      ear.current = undefined;
      setRunning(undefined);
      setLevel(undefined);
    }
  }, []);

  const began = (kind: Running['kind'], label: string, seconds?: number) => setRunning({ kind, label, beganAt: performance.now(), ...(seconds === undefined ? {} : { seconds }) });

  const took = async (at: Step, take: HeardTake, more: { role: string; resistor_ohm: number | null; load_ohm: number | null; added_mass_kg: number | null; stimulus: Of<'play'>['stimulus'] | null }) => {
    if (take.voided) {
      setSaid(take.voided === checkWords.stoppedReason ? checkWords.stopped : take.voided);
      append({ kind: 'voided', step: at.id, reason: take.voided });
      return;
    }
    began('prepare', checkWords.preparing);
    const plain: PageTake = { rateHz: take.rateHz, channels: take.channels };
    const { stimulus, ...connected } = more;
    const id = await keepTake(plain, { check, partName, source: hands.kind, ...connected, ...(stimulus ? { stimulus } : {}), ...(practice ? { practice } : {}) });
    takes.set(id, plain);
    setTakesCount(takes.size);
    const note = await noteOfTake(id, at.action, plain);
    append({ kind: 'took', step: at.id, take: note });
  };

  const play = (at: Step, action: Of<'play'>) =>
    guarded(async () => {
      began('prepare', checkWords.rendering);
      const samples = await renderStimulus({ ...action.stimulus, rate_hz: hands.rateHz });
      const seconds = (samples.length / hands.rateHz + action.tail_s) / hands.speed;
      began('play', '', seconds);
      const { signal } = abort.current;
      const take = await hands.play({ stimulus: action.stimulus, role: action.role, resistorOhm: action.resistor_ohm, samples, tailS: action.tail_s, onLevel: setLevel, signal });
      await took(at, signal.aborted ? { ...take, voided: checkWords.stoppedReason } : take, { role: action.role, resistor_ohm: action.resistor_ohm, load_ohm: null, added_mass_kg: null, stimulus: action.stimulus });
    });

  const listen = (at: Step, action: Of<'listen'>) =>
    guarded(async () => {
      began('prepare', checkWords.preparing);
      setKnocks([]);
      setRings([]);
      const { signal } = abort.current;
      let looking = false;
      let heardShape = '[]';
      const look = async (soFar: PageTake) => {
        if (looking) return;
        looking = true;
        try {
          const found = await spotKnocks(soFar, action.channel);
          const shape = JSON.stringify(found.map((k) => [k.time_s.toFixed(2), k.set_aside?.code]));
          setKnocks(found);
          setRings(found.map((k) => ringOf(soFar, action.channel, k)));
          if (shape !== heardShape) append({ kind: 'heard', step: at.id, knocks: found });
          heardShape = shape;
        } finally {
          looking = false;
        }
      };
      ear.current = await hands.listen({ channel: action.channel, wantedKnocks: action.wanted_knocks, maxS: action.max_s, loadOhm: action.load_ohm, addedMassKg: action.added_mass_kg, onLevel: setLevel, onHeard: (t) => void look(t), signal });
      began('listen', '');
      const take = await ear.current.done;
      await took(at, signal.aborted ? { ...take, voided: checkWords.stoppedReason } : take, { role: 'free', resistor_ohm: null, load_ohm: action.load_ohm, added_mass_kg: action.added_mass_kg, stimulus: null });
    });

  const analyse = (action: Of<'analyse'>) =>
    guarded(async () => {
      began('analyse', checkWords.analysing);
      const setup = setupOf(check, bench, { ...extra, ...action.fields });
      const reading = await readTakes(setup, action.takes, takes, abort.current.signal);
      const record = await keepReading({ check, partName, note: '', source: hands.kind, takes: action.takes, setup, reading, ...(practice ? { practice } : {}) });
      setKept(record);
      append({ kind: 'read', reading: noteOfReading(action.takes.map((t) => t.id), reading) });
    });

  // A refusal on the way is kept as well: what was recorded stays in the list, with the reason.
  useEffect(() => {
    if (step?.action.kind !== 'refuse' || step.stage === 'read' || takes.size === 0) return;
    const { notice } = step.action;
    const uses = [...takes.keys()].slice(-1).map((id) => useOf(id, history));
    void refusalReading(check, notice)
      .then((reading) => keepReading({ check, partName, note: '', source: hands.kind, takes: uses, setup: setupOf(check, bench, extra), reading, ...(practice ? { practice } : {}) }))
      .then(setKept, () => undefined);
  }, [step?.id]);

  const go = () => {
    if (!step) return;
    const { action } = step;
    if (action.kind === 'play') void play(step, action);
    else if (action.kind === 'listen') void listen(step, action);
    else if (action.kind === 'analyse') void analyse(action);
  };

  // Analyses and the next level of a series need no press; but nothing sounds on opening a check that was left.
  useEffect(() => {
    if (!step || busy.current) return;
    const justResumed = history === resume?.run.history;
    if (step.action.kind === 'analyse' || (step.action.kind === 'play' && step.action.by_itself && !justResumed)) go();
  }, [step]);

  // Enough was heard: the take ends by itself.
  const endAfter = step?.action.kind === 'listen' ? step.action.end_after_s : null;
  useEffect(() => {
    if (endAfter == null || running?.kind !== 'listen') return;
    const timer = setTimeout(() => ear.current?.stop(), (endAfter * 1000) / hands.speed);
    return () => clearTimeout(timer);
  }, [endAfter, running?.kind]);

  return {
    step,
    running,
    level,
    knocks,
    rings,
    said,
    fault,
    kept,
    takes,
    takesCount,
    confirm: (answers) => step && append({ kind: 'confirmed', step: step.id, answers }),
    choose: (choice) => step && append({ kind: 'chosen', step: step.id, choice }),
    stepBack: () => append({ kind: 'stepped_back' }),
    go,
    stop: () => {
      hands.stop();
      abort.current.abort();
    },
    keepKnocks: () => ear.current?.stop(),
    setLastAside: () => {
      const last = knocks.reduce((found, k, i) => (k.set_aside ? found : i + 1), 0);
      if (last > 0) append({ kind: 'set_aside', take: '', knock: last });
    },
  };
}

/** What a take was for, from the note that the procedure heard of it. */
function useOf(id: string, history: Happening[]): TakeUse {
  const note = history.flatMap((h) => (h.kind === 'took' && h.take.id === id ? [h.take] : []))[0];
  return { id, role: note?.role ?? 'driver', resistor_ohm: note?.resistor_ohm ?? null, load_ohm: note?.load_ohm ?? null, added_mass_kg: note?.added_mass_kg ?? null, set_aside: [] };
}

/** A third of a second of the ring, thinned for a slot. */
function ringOf(take: PageTake, channel: number, knock: KnockNote): Float32Array | undefined {
  const samples = take.channels[channel - 1];
  if (!samples) return undefined;
  const from = Math.max(0, Math.round((knock.time_s - 0.02) * take.rateHz));
  const step = Math.max(1, Math.round(take.rateHz * 0.0015));
  const count = Math.min(220, Math.floor((samples.length - from) / step));
  return count > 20 ? Float32Array.from({ length: count }, (_, i) => samples[from + i * step] ?? 0) : undefined;
}
