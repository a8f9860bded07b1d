// An entry whose number is checked: kept as text while it is typed, handed on as SI where it is whole.
import { useState } from 'preact/hooks';
import { Entry, faultWords } from './controls';
import { forEntry, NBSP, parseEntry } from './format';

export interface NumberSpec {
  label: string;
  unit: string;
  /** SI units in one shown unit. */
  scale?: number;
  low: number;
  high: number;
  optional?: boolean;
  help?: string;
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

/** The fault shows once something was typed, or once `insist` is set by a press of the main button. */
export function NumberEntry({ spec, state, onState, insist }: { spec: NumberSpec; state: NumberState; onState: (state: NumberState) => void; insist?: boolean }) {
  const [touched, setTouched] = useState(false);
  const fault = state.faulty && (insist || (touched && state.text !== '')) ? faultOf(spec, state.text) : undefined;
  const onText = (text: string) => {
    setTouched(true);
    onState(readNumber(spec, text));
  };
  return <Entry label={spec.label} unit={spec.unit} text={state.text} onText={onText} {...(fault ? { fault } : {})} {...(spec.help ? { help: spec.help } : {})} />;
}
