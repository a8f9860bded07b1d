// An entry whose number is checked: kept as text while it is typed, handed on as SI where it is whole.
import { useState } from 'preact/hooks';
import { Entry, faultWords } from './controls';
import { forEntry, NBSP, parseEntry } from './format';
import { ResistorHelp } from './resistor_help';

export interface NumberSpec {
  label: string;
  unit: string;
  /** SI units in one shown unit. */
  scale?: number;
  low: number;
  high: number;
  optional?: boolean;
  help?: string;
  /** A resistor: its value can be read off its bands. */
  resistor?: boolean;
}

export interface NumberState {
  text: string;
  /** SI; none where empty or faulty. */
  value?: number;
  faulty: boolean;
}

export function startNumber(spec: NumberSpec, value: number | null | undefined): NumberState {
  return readNumber(spec, value == null ? '' : forEntry(value / (spec.scale ?? 1)));
}

export function readNumber(spec: NumberSpec, text: string): NumberState {
  const read = parseEntry(text);
  if ('fault' in read) return { text, faulty: !(read.fault === 'empty' && spec.optional) };
  const value = read.value * (spec.scale ?? 1);
  const inside = value >= spec.low * (1 - 1e-9) && value <= spec.high * (1 + 1e-9);
  return inside ? { text, value, faulty: false } : { text, faulty: true };
}

/** Why a text is no number, in words. */
function faultOf(spec: NumberSpec, text: string): string | undefined {
  const scale = spec.scale ?? 1;
  const shown = (si: number) => forEntry(si / scale) + (spec.unit ? NBSP + spec.unit : '');
  const read = parseEntry(text);
  if ('fault' in read) return read.fault === 'empty' && spec.optional ? undefined : faultWords(read.fault);
  const value = read.value * scale;
  if (value < spec.low * (1 - 1e-9)) return faultWords('too_low', shown(spec.low));
  if (value > spec.high * (1 + 1e-9)) return faultWords('too_high', undefined, shown(spec.high));
  return undefined;
}

interface Props {
  spec: NumberSpec;
  state: NumberState;
  onState: (state: NumberState) => void;
  insist?: boolean;
  /** Where a resistor's tolerance goes, in per cent; without it only its value is taken. */
  onTolerance?: (percent: number) => void;
}

/** The fault shows once something was typed, or once `insist` is set by a press of the main button. */
export function NumberEntry({ spec, state, onState, insist, onTolerance }: Props) {
  const [touched, setTouched] = useState(false);
  const fault = state.faulty && (insist || (touched && state.text !== '')) ? faultOf(spec, state.text) : undefined;
  const onText = (text: string) => {
    setTouched(true);
    onState(readNumber(spec, text));
  };
  const entry = <Entry label={spec.label} unit={spec.unit} text={state.text} onText={onText} {...(fault ? { fault } : {})} {...(spec.help ? { help: spec.help } : {})} />;
  if (!spec.resistor) return entry;
  const take = (ohm: number, percent: number | null) => {
    onText(forEntry(ohm / (spec.scale ?? 1)));
    if (percent !== null) onTolerance?.(percent);
  };
  return (
    <div class="with-help">
      {entry}
      <ResistorHelp wantedOhm={state.value} onTake={take} keepsTolerance={onTolerance !== undefined} />
    </div>
  );
}
