// One runner for every check: it shows the step that the core gives, and reports what came of it.
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Step } from '../core/types.gen';
import { backOf } from '../job/place';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Fault, Progress, StopButton } from '../ui/controls';
import { Cautions, Notices } from '../ui/notices';
import { Rich } from '../ui/symbol';
import { words } from '../words/common';
import { checkWords } from '../words/check';
import { fixed, NBSP } from '../ui/format';
import { Choices } from './choices';
import type { BenchOf, CheckName } from './core_calls';
import { FormView, useForm, type Form } from './forms';
import type { Hands } from './hands';
import { MeterEntries, ToneButtons } from './meter/entries';
import { ListenBody, LiveStub, OpenStub, StillDrawing } from './live';
import { useCheck, type CheckOptions, type CheckRun } from './run_check';
import { ReadingBody, ReadingStub } from './reading_view';
import { RefusalBody, RefusalStub } from './refusal_view';

export interface CheckScreenProps extends CheckOptions<CheckName> {
  title: string;
}

export function CheckScreen(props: CheckScreenProps) {
  const run = useCheck(props);
  const { step } = run;
  const heading = useHeading(step, props.title);
  useKeys(run);
  // A series goes on by itself: STOP stays in place between its takes.
  const live = useLinger(run.running !== undefined && run.running.kind !== 'analyse', 400);
  const boxes = { part: props.partName, check: props.title, ...(props.practice ? { bench: words.practiceBench } : {}), ...(run.takesCount > 0 ? { take: String(run.takesCount) } : {}) };
  const slip = <Slip back={backOf(props.place)} backLabel={checkWords.back} boxes={boxes} />;
  if (!step) {
    return (
      <Page kind="check" promise={props.hands.promise}>
        <Sheet card={<>{slip}<div class="card-body"><h1 tabIndex={-1} ref={heading}>{run.fault ? checkWords.broken : checkWords.preparing}</h1>{run.fault && <Fault text={run.fault} />}</div></>} {...(run.fault ? { stub: <AskAgain run={run} /> } : {})} />
      </Page>
    );
  }
  return (
    <Page kind="check" promise={props.hands.promise}>
      <Body key={keyOf(step)} run={run} step={step} live={live} slip={slip} heading={heading} sensor={sensorOf(props)} hands={props.hands} />
    </Page>
  );
}

/** A new tone begins with empty entries, and so does a reading that was kept. */
function keyOf({ id, action, readings }: Step): string {
  return action.kind === 'sound' ? `${id} ${action.stimulus.low_hz} ${action.stimulus.peak_dbfs} ${readings.length}` : `${id} ${readings.length}`;
}

function sensorOf({ check, bench }: CheckScreenProps): 'coil' | 'microphone' {
  return check === 'knock' ? (bench as BenchOf['knock']).sensor : 'coil';
}

interface BodyProps {
  run: CheckRun;
  step: Step;
  live: boolean;
  slip: preact.ComponentChildren;
  heading: preact.RefObject<HTMLHeadingElement>;
  sensor: 'coil' | 'microphone';
  hands: Hands;
}

function Body({ run, step, live, slip, heading, sensor, hands }: BodyProps) {
  const { action } = step;
  const asks = action.kind === 'tick' ? action : action.kind === 'ask' || action.kind === 'sound' ? { items: [], picks: [], fields: action.fields } : { items: [], picks: [], fields: [] };
  const form = useForm(asks.items, asks.picks, asks.fields);
  if (action.kind === 'done' && run.kept) {
    return <Sheet card={<>{slip}<ReadingBody kept={run.kept} note={step.note} notices={step.notices} heading={heading} /></>} stub={<ReadingStub kept={run.kept} next={action.next} onChoose={(id) => run.runner.choose(id)} />} stubLabel={words.stub} />;
  }
  if (action.kind === 'refuse') {
    return <Sheet card={<>{slip}<RefusalBody notice={action.notice} kept={run.kept} takes={run.takesCount} heading={heading} /></>} stub={<RefusalStub notice={action.notice} choices={step.choices} onChoose={(id) => run.runner.choose(id)} kept={run.kept} takesCount={run.takesCount} />} />;
  }
  const listening = run.running?.kind === 'listen';
  return (
    <Sheet
      live={live}
      card={
        <>
          {slip}
          <div class="card-body">
            {!live && <Stations step={step} />}
            <Instruction step={step} heading={heading} />
            <Said run={run} />
            <Notices notices={step.notices} />
            {run.running && run.running.kind !== 'listen' && <Doing run={run} hands={hands} />}
            {action.kind === 'listen' ? <ListenBody run={run} step={step} action={action} running={listening} sensor={sensor} /> : step.drawing && step.readings.length === 0 && <div class="connect-drawing"><StillDrawing drawing={step.drawing} sensor={sensor} /></div>}
            {action.kind === 'sound' || step.id === 'readings' ? <MeterEntries run={run} step={step} form={form} onKeep={() => keepForm(run, form)} /> : <FormView form={form} />}
            {!live && <Cautions cautions={step.cautions} />}
          </div>
        </>
      }
      stub={live ? <LiveStub run={run} step={step} hands={hands} /> : <StillStub run={run} step={step} form={form} hands={hands} />}
    />
  );
}

function Stations({ step }: { step: Step }) {
  const all = ['bench_card', 'connect', 'measure', 'read'] as const;
  return (
    <ol class="stations" aria-label={checkWords.stagesLabel}>
      {all.map((stage) => (
        <li key={stage} class={stage === step.stage ? 'here' : ''} aria-current={stage === step.stage ? 'step' : undefined}>
          <span>{checkWords.stages[stage]}</span>
        </li>
      ))}
    </ol>
  );
}

function Instruction({ step, heading }: { step: Step; heading: preact.RefObject<HTMLHeadingElement> }) {
  return (
    <div class="instruction">
      <h1 ref={heading} tabIndex={-1} aria-live="polite">
        <Rich text={step.sentence} />
      </h1>
      {step.note && (
        <p class="detail">
          <Rich text={step.note} />
        </p>
      )}
    </div>
  );
}

function Said({ run }: { run: CheckRun }) {
  return (
    <div role="status">
      {run.said && <p>{run.said}</p>}
      {run.fault && (
        <p>
          <strong>{checkWords.broken}.</strong> {run.fault}
        </p>
      )}
    </div>
  );
}

/** Framed bar and seconds left; a bar without a known end tells what is being done. */
function Doing({ run, hands }: { run: CheckRun; hands: Hands }) {
  const [now, setNow] = useState(performance.now());
  useEffect(() => {
    const timer = setInterval(() => setNow(performance.now()), 200);
    return () => clearInterval(timer);
  }, []);
  const { running } = run;
  if (!running) return null;
  const gone = (now - running.beganAt) / 1000;
  if (running.seconds === undefined) return <p>{<strong>{checkWords.working}</strong>} {running.label}</p>;
  const left = Math.max(0, (running.seconds - gone) * hands.speed);
  const label = left > 0.5 ? checkWords.playing(`${fixed(left, 0)}${NBSP}s`) : checkWords.recordingOn;
  return (
    <>
      <Progress done={gone / running.seconds} label={label} />
      {hands.kind === 'practice' && <p class="note">{checkWords.practiceFast}</p>}
    </>
  );
}

/** Keeps what was typed; what is faulty is said instead. */
function keepForm(run: CheckRun, form: Form): void {
  if (form.faulty) form.set({ ...form.state, insist: true });
  else run.runner.confirm(form.answers());
}

function StillStub({ run, step, form, hands }: { run: CheckRun; step: Step; form: Form; hands: Hands }) {
  const { action } = step;
  const button = 'button' in action ? action.button : undefined;
  const asks = action.kind === 'tick' || action.kind === 'ask' || action.kind === 'sound' || action.kind === 'confirm';
  const press = () => {
    if (!asks) return run.runner.go();
    keepForm(run, form);
  };
  const busy = run.running !== undefined;
  if (run.next === 'failed' && !busy) return <AskAgain run={run} />;
  return (
    <>
      <div class="buttons" aria-busy={run.next === 'awaited'}>
        {action.kind === 'sound' && <ToneButtons run={run} action={action} form={form} hands={hands} />}
        {button && (
          <Button kind="main" onPress={press} {...(busy ? { notYet: checkWords.preparing } : form.notYet ? { notYet: form.notYet } : {})}>
            {button}
          </Button>
        )}
        {action.kind === 'analyse' && !busy && run.next === undefined && (
          <Button kind="main" onPress={() => run.runner.go()}>
            {checkWords.tryAgain}
          </Button>
        )}
        {busy && <StopButton onPress={() => run.runner.stop()} />}
      </div>
      <Choices choices={step.choices} onChoose={(id) => run.runner.choose(id)} />
      <OpenStub run={run} step={step} hands={hands} />
      {step.id !== 'bench_card' && !busy && <StepBack run={run} />}
    </>
  );
}

/** The core did not give the step that follows. */
function AskAgain({ run }: { run: CheckRun }) {
  return (
    <div class="buttons">
      <Button kind="main" onPress={() => run.runner.askAgain()}>
        {checkWords.tryAgain}
      </Button>
      {run.step && <StepBack run={run} />}
    </div>
  );
}

function StepBack({ run }: { run: CheckRun }) {
  return (
    <button type="button" class="text-button foot" onClick={() => run.runner.stepBack()}>
      {checkWords.stepBack}
    </button>
  );
}

/** True at once, false only after a while. */
function useLinger(on: boolean, ms: number): boolean {
  const [held, setHeld] = useState(on);
  useEffect(() => {
    if (on) {
      setHeld(true);
      return;
    }
    const timer = setTimeout(() => setHeld(false), ms);
    return () => clearTimeout(timer);
  }, [on]);
  return on || held;
}

/** A new step begins at its heading; a sentence that changes within a step is spoken by itself. */
function useHeading(step: Step | undefined, title: string): preact.RefObject<HTMLHeadingElement> {
  const heading = useRef<HTMLHeadingElement>(null);
  const first = useRef(true);
  useEffect(() => {
    document.title = `${step?.sentence ?? title} · ${title} · ${words.name}`;
  }, [step?.sentence, title]);
  useEffect(() => {
    if (!step) return;
    // Buttons of a series in course keep the focus; everything else starts at the top.
    if (!first.current || document.activeElement === document.body) {
      window.scrollTo(0, 0);
      heading.current?.focus({ preventScroll: true });
    }
    first.current = false;
  }, [step?.id]);
  return heading;
}

/** Esc stops at any moment. The space bar takes the knocks, or stops what plays. */
function useKeys(run: CheckRun): void {
  const latest = useRef(run);
  latest.current = run;
  useEffect(() => {
    const key = (event: KeyboardEvent) => {
      const { running, knocks, runner } = latest.current;
      if (event.key === 'Escape') {
        event.preventDefault();
        runner.stop();
      } else if (running && event.key === ' ' && !isControl(event.target)) {
        event.preventDefault();
        if (running.kind === 'listen' && knocks.some((k) => !k.set_aside)) runner.keepKnocks();
        else if (running.kind !== 'analyse') runner.stop();
      }
    };
    window.addEventListener('keydown', key);
    return () => window.removeEventListener('keydown', key);
  }, []);
}

/** A focused control keeps its own meaning of the space bar. */
const isControl = (target: EventTarget | null) => target instanceof Element && target.closest('button, input, select, a, summary, textarea') !== null;
