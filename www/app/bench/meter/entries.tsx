// Typing what the meter shows: the entries with the readings so far on the card, the tone on the stub.
import { useEffect, useRef, useState } from 'preact/hooks';
import type { Action, Step } from '../../core/types.gen';
import { Button, Fault, StopButton } from '../../ui/controls';
import { NBSP } from '../../ui/format';
import { meterWords as w } from '../../words/meter';
import { FormView, type Form } from '../forms';
import type { Hands } from '../hands';
import type { CheckRun } from '../run_check';
import { ReadingsTable } from './readings_table';

type Sound = Extract<Action, { kind: 'sound' }>;

export function MeterEntries({ run, step, form, onKeep }: { run: CheckRun; step: Step; form: Form; onKeep: () => void }) {
  const place = useRef<HTMLDivElement>(null);
  useEffect(() => {
    // From tone to tone the hand stays on the keys: type, Enter, type.
    if (step.readings.length > 0) place.current?.querySelector('input')?.focus({ preventScroll: true });
  }, []);
  const enter = (event: KeyboardEvent) => {
    if (event.key !== 'Enter' || !(event.target instanceof HTMLInputElement)) return;
    event.preventDefault();
    const inputs = [...(place.current?.querySelectorAll('input') ?? [])];
    const next = inputs[inputs.indexOf(event.target) + 1];
    if (next && next.value === '') next.focus();
    else onKeep();
  };
  return (
    <>
      <div ref={place} onKeyDown={enter}>
        <FormView form={form} />
      </div>
      {step.id !== 'level' && step.readings.length > 0 && <ReadingsTable readings={step.readings} onChange={(answers) => run.runner.confirm(answers)} />}
    </>
  );
}

/** The tone, or on the practice bench the meter itself. */
export function ToneButtons({ run, action, form, hands }: { run: CheckRun; action: Sound; form: Form; hands: Hands }) {
  const [fault, setFault] = useState('');
  const { readMeter } = hands;
  if (readMeter) {
    const read = () => void readMeter(action.stimulus).then(form.fill, (error: Error) => setFault(error.message));
    return (
      <>
        <Button kind="plain" onPress={read}>
          {w.practiceRead}
        </Button>
        <p class="note">{w.practiceNote}</p>
        {fault && <Fault text={fault} />}
      </>
    );
  }
  if (run.sounding) {
    return (
      <>
        <StopButton onPress={() => run.runner.stop()} />
        <p class="note" role="status">
          {w.sounding(`${action.stimulus.low_hz}${NBSP}Hz`)}
        </p>
      </>
    );
  }
  return (
    <Button kind="plain" onPress={() => void run.runner.sound()}>
      {w.play}
    </Button>
  );
}
