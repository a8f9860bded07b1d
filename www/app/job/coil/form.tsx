// What is typed from a meter; kept as text until it goes on the card.
import { useEffect, useState } from 'preact/hooks';
import type { CoilEntry, Phase } from '../../core/types.gen';
import { Button, Choice, Select, TextEntry } from '../../ui/controls';
import { NumberEntry, readNumber, startNumber, type NumberSpec, type NumberState } from '../../ui/number_entry';
import { coilWords as w } from '../../words/coil';
import { jobWords } from '../../words/job';
import { loadBench, saveBench } from '../keeping';

const ohms = (label: string, help?: string): NumberSpec => ({ label, unit: 'Ω', low: 0, high: 1e5, optional: true, ...(help ? { help } : {}) });

const SPECS = {
  first: ohms(w.still[0] ?? ''),
  second: ohms(w.still[1] ?? ''),
  third: ohms(w.still[2] ?? ''),
  leads: { ...ohms(w.leads, w.leadsHelp), high: 10 },
  movedLow: ohms(w.movedLow, w.movedHelp),
  movedHigh: ohms(w.movedHigh),
  temperature: { label: w.temperature, unit: '°C', low: -30, high: 200, optional: true },
  meterPercent: { label: w.meterPercent, unit: '%', low: 0, high: 20, help: w.meterHelp },
  meterOhm: { label: w.meterOhm, unit: 'Ω', low: 1e-6, high: 10 },
  frame: { label: w.frameValue, unit: 'MΩ', low: 0, high: 1e6 },
} satisfies Record<string, NumberSpec>;
type Field = keyof typeof SPECS;
const SHOWN: Field[] = ['first', 'second', 'third', 'leads', 'temperature', 'movedLow', 'movedHigh', 'meterPercent', 'meterOhm'];
const READINGS: Field[] = ['first', 'second', 'third', 'leads', 'movedLow', 'movedHigh'];

/** A hand meter of the ordinary kind; common practice, no source. */
const METER = { percent: 0.8, ohm: 0.2 };

type Frame = 'none' | 'over' | 'value';

interface Typed {
  fields: Record<Field, NumberState>;
  overRange: boolean;
  frame: Frame;
  phase: Phase;
  note: string;
}

/** The meter and the temperature stay as they were with the last entry. */
function start(last: CoilEntry | undefined): Typed {
  const known: Partial<Record<Field, number | null>> = { meterPercent: last?.meter_percent ?? METER.percent, meterOhm: last?.meter_ohm ?? METER.ohm, leads: last?.leads_ohm ?? null };
  const fields = Object.fromEntries(Object.entries(SPECS).map(([name, spec]) => [name, startNumber(spec, known[name as Field])])) as Record<Field, NumberState>;
  return { fields, overRange: false, frame: 'none', phase: last?.phase ?? 'returned', note: '' };
}

/** None while a field is faulty or nothing was read. */
export function entryOf({ fields, overRange, frame, phase, note }: Typed): CoilEntry | undefined {
  const wanted: Field[] = [...SHOWN.filter((f) => !(overRange && READINGS.includes(f))), ...(frame === 'none' ? [] : (['frame'] as const))];
  if (wanted.some((f) => fields[f].faulty)) return undefined;
  const typed = (names: Field[]) => (overRange ? [] : names.flatMap((f) => fields[f].value ?? []));
  const shown_ohm = typed(['first', 'second', 'third']);
  if (!overRange && shown_ohm.length === 0) return undefined;
  return {
    shown_ohm,
    moved_ohm: typed(['movedLow', 'movedHigh']),
    leads_ohm: overRange ? null : (fields.leads.value ?? null),
    meter_percent: fields.meterPercent.value ?? METER.percent,
    meter_ohm: fields.meterOhm.value ?? METER.ohm,
    temperature_c: fields.temperature.value ?? null,
    to_frame_megohm: frame === 'none' ? null : (fields.frame.value ?? null),
    to_frame_over_range: frame === 'over',
    over_range: overRange,
    phase,
    at_ms: Date.now(),
    note: note.trim(),
  };
}

export function CoilForm({ last, onEntry }: { last: CoilEntry | undefined; onEntry: (entry: CoilEntry) => void }) {
  const [typed, setTyped] = useState(() => start(last));
  const [insist, setInsist] = useState(false);
  const set = (changes: Partial<Typed>) => setTyped((t) => ({ ...t, ...changes }));
  const field = (name: Field, spec: NumberSpec = SPECS[name]) => (
    <NumberEntry key={name} spec={spec} insist={insist} state={typed.fields[name]} onState={(state) => setTyped((t) => ({ ...t, fields: { ...t.fields, [name]: readNumber(spec, state.text) } }))} />
  );
  useEffect(() => {
    // A meter is typed once, not for every part.
    void loadBench().then(({ ohmsMeter: meter }) => {
      if (!meter || last) return;
      const own = { meterPercent: startNumber(SPECS.meterPercent, meter.percent), meterOhm: startNumber(SPECS.meterOhm, meter.ohm) };
      setTyped((t) => ({ ...t, fields: { ...t.fields, ...own } }));
    });
  }, []);
  const keep = () => {
    const entry = entryOf(typed);
    setInsist(!entry);
    if (!entry) return;
    onEntry(entry);
    void loadBench().then((bench) => saveBench({ ...bench, ohmsMeter: { percent: entry.meter_percent, ohm: entry.meter_ohm } }));
    setTyped({ ...start(entry), fields: { ...start(entry).fields, temperature: typed.fields.temperature } });
  };
  return (
    <div class="coil-form">
      <ul class="ticks">
        <li>
          <label>
            <input type="checkbox" checked={typed.overRange} onChange={(event) => set({ overRange: event.currentTarget.checked })} />
            <span>{w.overRange}</span>
          </label>
        </li>
      </ul>
      <div class="fields">{SHOWN.filter((f) => !(typed.overRange && READINGS.includes(f))).map((name) => field(name, name === 'first' ? { ...SPECS.first, optional: false } : SPECS[name]))}</div>
      <Choice
        legend={w.frame}
        options={(['none', 'over', 'value'] as const).map((id) => ({ id, label: w.frameChoice[id] }))}
        value={typed.frame}
        onChange={(id) => set({ frame: id as Frame })}
        help={w.frameHelp}
      />
      {typed.frame !== 'none' && field('frame', typed.frame === 'over' ? { ...SPECS.frame, label: w.frameLimit } : SPECS.frame)}
      <div class="fields">
        <Select label={w.phase} options={Object.entries(jobWords.phases).map(([id, label]) => ({ id, label }))} value={typed.phase} onChange={(id) => set({ phase: id as Phase })} />
        <TextEntry label={w.note} text={typed.note} onText={(note) => set({ note })} />
      </div>
      {insist && !entryOf(typed) && (
        <p class="fault" role="status">
          {w.fieldsWrong}
        </p>
      )}
      <Button kind="plain" onPress={keep}>
        {w.keep}
      </Button>
    </div>
  );
}
