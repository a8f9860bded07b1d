// What is seen while audio is open: count, slots and drawing on the card; level and STOP on the stub.
import { useEffect, useMemo, useRef } from 'preact/hooks';
import type { Action, Drawing, Step } from '../core/types.gen';
import { Button, StopButton } from '../ui/controls';
import { StepDrawing } from '../ui/drawing';
import { fixed, NBSP } from '../ui/format';
import { Gauge } from '../ui/gauge';
import { Slots } from '../ui/slots';
import { checkWords } from '../words/check';
import type { Hands } from './hands';
import type { CheckRun } from './run_check';

type Listen = Extract<Action, { kind: 'listen' }>;

export function ListenBody({ run, step, action, running, sensor }: { run: CheckRun; step: Step; action: Listen; running: boolean; sensor: 'coil' | 'microphone' }) {
  // Levels redraw this screen many times a second: what they do not change is kept as it is.
  const slots = useMemo(() => running && <KnockSlots run={run} wanted={action.wanted_knocks} named={action.second_channel !== null} />, [running, run.knocks, run.rings, action.wanted_knocks]);
  const counted = step.progress?.done ?? run.knocks.filter((k) => !k.set_aside).length;
  const aside = run.knocks.filter((k) => k.set_aside);
  const reason = aside[aside.length - 1]?.set_aside?.message;
  const asideWords = aside.length === 0 ? '' : `${aside.length === 1 ? checkWords.asideOne : checkWords.asideMany(aside.length)}. ${reason ?? ''}`;
  return (
    <div class={`live-body ${running ? 'with-count' : ''}`}>
      {running && (
        <div class="count">
          <span class="big" aria-hidden="true">
            {counted}
          </span>
          <span class="words only-wide-block">{checkWords.ofKnocks(action.wanted_knocks)}</span>
          <span class="words only-narrow-inline">{checkWords.count(counted, action.wanted_knocks)}</span>
          <p class="note">{asideWords}</p>
        </div>
      )}
      {slots}
      <div class="drawing-place">{step.drawing && <StillDrawing drawing={step.drawing} sensor={sensor} />}</div>
      <Heard run={run} />
    </div>
  );
}

/** `named`: two inputs are listened to, so each slot says which it is from. */
function KnockSlots({ run, wanted, named }: { run: CheckRun; wanted: number; named: boolean }) {
  const found = run.knocks.map((k, i) => {
    const ring = run.rings[i];
    return { ...(named ? { input: k.channel } : {}), ...(k.frequency_hz ? { frequencyHz: k.frequency_hz } : {}), ...(k.set_aside ? { aside: k.set_aside.message } : {}), ...(ring ? { ring } : {}) };
  });
  return <Slots found={found} wanted={wanted} running />;
}

/** A drawing that is drawn anew only where it changes. */
export function StillDrawing({ drawing, sensor }: { drawing: Drawing; sensor: 'coil' | 'microphone' }) {
  return useMemo(() => <StepDrawing drawing={drawing} sensor={sensor} />, [JSON.stringify(drawing), sensor]);
}

/** Spoken, not seen: the slots show it. */
function Heard({ run }: { run: CheckRun }) {
  const last = run.knocks[run.knocks.length - 1];
  const hz = last?.frequency_hz ? `${fixed(last.frequency_hz, 1)}${NBSP}Hz` : '';
  return (
    <p class="unheard" aria-live="polite">
      {last ? (last.set_aside ? last.set_aside.message : checkWords.heard(run.knocks.length, hz)) : ''}
    </p>
  );
}

/** While the input is open and nothing runs: its level, what is known of it, and STOP, which has nothing to stop. */
export function OpenStub({ run, step, hands }: { run: CheckRun; step: Step; hands: Hands }) {
  // The check by meter has an output only.
  if (hands.kind !== 'live' || hands.sound) return null;
  const channels = channelsOf(step);
  return (
    <div class="open-strip">
      {step.stage !== 'bench_card' &&
        channels.map((channel) => (
          <Gauge key={channel} title={channels.length > 1 ? checkWords.inputOf(channel) : checkWords.input} peakWord={checkWords.peak} level={{ now: run.level?.rmsDbfs[channel - 1] ?? -Infinity, ...peakOf(run, channel) }} />
        ))}
      <StopButton stopped onPress={() => run.runner.stop()} />
      {hands.doubts.map((doubt) => (
        <p class="note" key={doubt}>
          {doubt}
        </p>
      ))}
      <details>
        <summary>{checkWords.facts.title}</summary>
        <dl class="bench-sum">
          {hands.facts.map(([label, value]) => (
            <div key={label}>
              <dt>{label}</dt>
              <dd>{value}</dd>
            </div>
          ))}
        </dl>
      </details>
    </div>
  );
}

function peakOf(run: CheckRun, channel: number): { peak?: number } {
  const peak = run.level?.peakDbfs[channel - 1];
  return peak === undefined ? {} : { peak };
}

export function LiveStub({ run, step, hands }: { run: CheckRun; step: Step; hands: Hands }) {
  const listening = run.running?.kind === 'listen' || step.action.kind === 'listen';
  const peaks = useRef<number[]>([]);
  const place = useRef<HTMLDivElement>(null);
  const channels = channelsOf(step);
  // The peak stays for the take, as the hand needs time to look.
  run.level?.peakDbfs.forEach((p, c) => (peaks.current[c] = Math.max(peaks.current[c] ?? -Infinity, p)));
  useEffect(() => {
    place.current?.querySelector<HTMLButtonElement>('#stop')?.focus({ preventScroll: true });
  }, []);
  const lastKnock = (channel: number) => [...run.knocks].reverse().find((k) => k.channel === channel)?.peak_dbfs;
  const out = run.level?.outputPeakDbfs;
  return (
    <>
      {channels.map((channel) => {
        const now = run.level?.rmsDbfs[channel - 1] ?? -Infinity;
        const peak = listening ? lastKnock(channel) : peaks.current[channel - 1];
        const title = channels.length > 1 ? checkWords.inputOf(channel) : checkWords.input;
        return <Gauge key={channel} title={title} peakWord={listening ? checkWords.lastKnock : checkWords.peak} level={{ now, ...(peak === undefined ? {} : { peak }) }} advise={listening} />;
      })}
      {!listening && (
        <p class="output-level">
          <strong>{checkWords.output}</strong>
          <span>{out !== undefined && out > -120 ? checkWords.belowFull(`${fixed(-out, 0)}${NBSP}dB`) : checkWords.silent}</span>
        </p>
      )}
      {listening && <p class="note advice-long">{checkWords.louder}</p>}
      <div class="hold foot" ref={place}>
        {listening && <KnockButtons run={run} />}
        <StopButton onPress={() => run.runner.stop()} />
        <p class="or-space">{listening ? checkWords.spaceKnock : checkWords.space}</p>
        {hands.kind === 'practice' && listening && <p class="note practice-fast">{checkWords.practiceFast}</p>}
      </div>
    </>
  );
}

function KnockButtons({ run }: { run: CheckRun }) {
  const counted = run.knocks.some((k) => !k.set_aside);
  return (
    <div class="buttons knock-buttons">
      <Button kind="quiet" onPress={() => run.runner.setLastAside()} {...(counted ? {} : { notYet: checkWords.noKnocksYet })}>
        {checkWords.setLastAside}
      </Button>
      {counted && (
        <Button kind="plain" onPress={() => run.runner.keepKnocks()}>
          {checkWords.keepKnocks}
        </Button>
      )}
    </div>
  );
}

function channelsOf(step: Step): number[] {
  const { action } = step;
  if (action.kind === 'listen') return action.second_channel === null ? [action.channel] : [action.channel, action.second_channel];
  if (action.kind === 'play') return [...new Set(action.channels)];
  return [1];
}
