// What else may be said about an impedance recording: each part may stay empty, and then the core decides by itself.
import { useState } from 'preact/hooks';
import { Fault, Select } from '../ui/controls';
import { NumberEntry, startNumber, type NumberSpec, type NumberState } from '../ui/number_entry';
import { recordingWords } from '../words/check';
import { FIELDS } from './bench_fields';

const w = recordingWords.extras;
const LOW: NumberSpec = { label: w.low, unit: 'Hz', low: 1, high: 1e5, optional: true, help: w.lowHelp };
const HIGH: NumberSpec = { label: w.high, unit: 'Hz', low: 1, high: 1e5, optional: true, help: w.highHelp };
/** The core's own band, for the end that is left empty. */
const WHOLE_BAND_HZ = [5, 20_000] as const;

export interface Extras {
  inputResistance: NumberState;
  low: NumberState;
  high: NumberState;
  coil: string;
  creep: string;
}

export const startExtras = (): Extras => ({
  inputResistance: startNumber(FIELDS.inputResistanceOhm, undefined),
  low: startNumber(LOW, undefined),
  high: startNumber(HIGH, undefined),
  coil: 'automatic',
  creep: 'automatic',
});

function bandOf({ low, high }: Extras): [number, number] | undefined {
  if (low.value === undefined && high.value === undefined) return undefined;
  return [low.value ?? WHOLE_BAND_HZ[0], high.value ?? WHOLE_BAND_HZ[1]];
}

const upsideDown = (extras: Extras) => {
  const band = bandOf(extras);
  return band !== undefined && band[0] >= band[1];
};

export const extrasFaulty = (extras: Extras) => extras.inputResistance.faulty || extras.low.faulty || extras.high.faulty || upsideDown(extras);

/** Fields of the setup; what is undefined is left out of it. */
export function extrasFields(extras: Extras): Record<string, unknown> {
  return {
    input_resistance_ohm: extras.inputResistance.value,
    band_hz: bandOf(extras),
    coil_model: extras.coil === 'automatic' ? undefined : extras.coil,
    suspension_creep: extras.creep === 'automatic' ? undefined : extras.creep === 'yes',
  };
}

const optionsOf = (words: Record<string, string>) => Object.entries(words).map(([id, label]) => ({ id, label }));

export function ExtrasForm({ extras, insist, onChange }: { extras: Extras; insist: boolean; onChange: (extras: Extras) => void }) {
  const [open, setOpen] = useState(false);
  // A fault in here must not hide behind the fold once the button was pressed; mending it must not fold it up.
  return (
    <details open={open || (insist && extrasFaulty(extras))} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{w.title}</summary>
      <div class="fields">
        <NumberEntry spec={FIELDS.inputResistanceOhm} insist={insist} state={extras.inputResistance} onState={(inputResistance) => onChange({ ...extras, inputResistance })} />
        <NumberEntry spec={LOW} insist={insist} state={extras.low} onState={(low) => onChange({ ...extras, low })} />
        <NumberEntry spec={HIGH} insist={insist} state={extras.high} onState={(high) => onChange({ ...extras, high })} />
        <Select label={w.coil} options={optionsOf(w.coils)} value={extras.coil} onChange={(coil) => onChange({ ...extras, coil })} />
        <Select label={w.creep} options={optionsOf(w.creeps)} value={extras.creep} onChange={(creep) => onChange({ ...extras, creep })} />
      </div>
      {upsideDown(extras) && <Fault text={w.upsideDown} />}
    </details>
  );
}
