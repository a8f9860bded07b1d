// Ticks, picks and numbers that a step asks for. State lives here; the step is left with one answer.
import { useState } from 'preact/hooks';
import type { Answer, Field, Pick, TickItem } from '../core/types.gen';
import { Choice } from '../ui/controls';
import { NumberEntry, startNumber, type NumberSpec, type NumberState } from '../ui/number_entry';
import { checkWords } from '../words/check';

export interface FormState {
  ticks: Record<string, boolean>;
  picks: Record<string, string>;
  numbers: Record<string, NumberState>;
  insist: boolean;
}

export interface Form {
  state: FormState;
  set: (state: FormState) => void;
  fields: Field[];
  items: TickItem[];
  picks: Pick[];
  /** Why the main button waits. */
  notYet: string | undefined;
  faulty: boolean;
  answers: () => Record<string, Answer>;
  /** Fills numbers in, SI, as if they had been typed. */
  fill: (values: Record<string, number>) => void;
}

/** Fields of a procedure that ask for a part with bands on it. */
const RESISTORS = ['load_ohm', 'resistor_ohm', 'series_resistor_ohm'];

const specOf = (field: Field): NumberSpec => ({ label: field.label, unit: field.unit, scale: field.scale, low: field.low, high: field.high, optional: field.optional, resistor: RESISTORS.includes(field.id), help: field.help + (field.optional ? ` (${checkWords.optional})` : '') });

/** Form of a step; give the component that uses it the step's id as key, so that every step starts anew. */
export function useForm(items: TickItem[], picks: Pick[], fields: Field[]): Form {
  const [state, set] = useState<FormState>(() => ({
    ticks: Object.fromEntries(items.map((i) => [i.id, false])),
    picks: Object.fromEntries(picks.map((p) => [p.id, p.default])),
    numbers: Object.fromEntries(fields.map((f) => [f.id, startNumber(specOf(f), f.default)])),
    insist: false,
  }));
  const open = items.filter((i) => i.required && !state.ticks[i.id]).length;
  const answers = () => {
    const out: Record<string, Answer> = { ...state.ticks, ...state.picks };
    for (const field of fields) {
      const value = state.numbers[field.id]?.value;
      if (value !== undefined) out[field.id] = value;
    }
    return out;
  };
  const fill = (values: Record<string, number>) => {
    const filled = fields.filter((f) => values[f.id] !== undefined).map((f) => [f.id, startNumber(specOf(f), values[f.id])]);
    set({ ...state, numbers: { ...state.numbers, ...Object.fromEntries(filled) } });
  };
  return { fill, state, set, fields, items, picks, notYet: open > 0 ? checkWords.tick(open) : undefined, faulty: fields.some((f) => state.numbers[f.id]?.faulty ?? true), answers };
}

export function FormView({ form }: { form: Form }) {
  const { state, set } = form;
  return (
    <>
      {form.items.length > 0 && (
        <ul class="ticks">
          {form.items.map((item) => (
            <li key={item.id}>
              <label>
                <input type="checkbox" checked={state.ticks[item.id] ?? false} onChange={(event) => set({ ...state, ticks: { ...state.ticks, [item.id]: event.currentTarget.checked } })} />
                <span>
                  {item.label}
                  {item.required && <strong> ({checkWords.needed})</strong>}
                </span>
                <span class="why">{item.help}</span>
              </label>
            </li>
          ))}
        </ul>
      )}
      {form.picks.map((pick) => (
        <Choice key={pick.id} legend={pick.label} options={pick.options} value={state.picks[pick.id] ?? pick.default} onChange={(id) => set({ ...state, picks: { ...state.picks, [pick.id]: id } })} />
      ))}
      {form.fields.length > 0 && (
        <div class="fields">
          {form.fields.map((field) => (
            <NumberEntry key={field.id} spec={specOf(field)} insist={state.insist} state={state.numbers[field.id] ?? startNumber(specOf(field), null)} onState={(next) => set({ ...state, numbers: { ...state.numbers, [field.id]: next } })} />
          ))}
        </div>
      )}
    </>
  );
}
