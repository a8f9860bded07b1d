// What a person has opened as recordings, what each shows, and the way to a reading. No screen is known here.
import { useState } from 'preact/hooks';
import type { PageTake, TakeUse } from '../core/types.gen';
import { keepReading, keepTake, loadBench, type Place } from '../job/keeping';
import { startNumber, type NumberSpec, type NumberState } from '../ui/number_entry';
import { go, href } from '../ui/route';
import { benchWords } from '../words/bench';
import { checkWords, recordingWords as w } from '../words/check';
import { setupWithTakes, without, type Setup } from './analysis';
import { FIELDS } from './bench_fields';
import { analyse, readWav, type CheckName } from './core_calls';
import { extrasFaulty, extrasFields, startExtras, type Extras } from './recording_extras';
import { standardFromTolerance } from './setup_screen';

export interface OpenFile {
  name: string;
  take: PageTake;
  role: string;
  resistor: NumberState;
  load: NumberState;
  mass: NumberState;
  box: NumberState;
}

export const KNOWN: NumberSpec = { label: w.known, unit: 'Ω', low: 0.01, high: 1e5 };
export const LOAD: NumberSpec = { label: w.load, unit: 'Ω', low: 0.1, high: 1e6, optional: true, help: w.loadHelp };
export const MASS: NumberSpec = { label: w.weight, unit: 'g', scale: 1e-3, low: 1e-5, high: 5, optional: true, help: w.weightHelp };
export const BOX: NumberSpec = { label: w.box, unit: 'l', scale: 1e-3, low: 1e-4, high: 2, optional: true, help: w.boxHelp };
export const DIAMETER: NumberSpec = { label: benchWords.diameter, unit: 'mm', scale: 1e-3, low: 0.01, high: 1, optional: true, help: benchWords.diameterHelp };

export const SPECS = { seriesResistorOhm: FIELDS.seriesResistorOhm, tolerancePercent: FIELDS.tolerancePercent, inputResistanceOhm: FIELDS.inputResistanceOhm, rEOhm: FIELDS.rEOhm, diameter: DIAMETER };
export type NumberName = keyof typeof SPECS;

/** What the analysis is told beside the takes. */
export interface Wanted {
  check: CheckName;
  sensor: 'coil' | 'microphone';
  channels: [number, number];
  part: string;
  numbers: Record<NumberName, NumberState>;
  /** Of the impedance check, seldom needed. */
  extras: Extras;
}

const START: Wanted = {
  check: 'impedance',
  sensor: 'coil',
  channels: [1, 2],
  part: '',
  numbers: { seriesResistorOhm: startNumber(SPECS.seriesResistorOhm, undefined), tolerancePercent: startNumber(SPECS.tolerancePercent, 1), inputResistanceOhm: startNumber(SPECS.inputResistanceOhm, undefined), rEOhm: startNumber(SPECS.rEOhm, undefined), diameter: startNumber(DIAMETER, undefined) },
  extras: startExtras(),
};

export function useRecording(place: Place | undefined) {
  const [files, setFiles] = useState<OpenFile[]>([]);
  const [wanted, setWanted] = useState(START);
  const [insist, setInsist] = useState(false);
  const [working, setWorking] = useState('');
  const [fault, setFault] = useState('');
  const change = (more: Partial<Wanted>) => setWanted((now) => ({ ...now, ...more }));
  const changeNumber = (name: NumberName, state: NumberState) => setWanted((now) => ({ ...now, numbers: { ...now.numbers, [name]: state } }));

  const add = async (list: FileList | File[]) => {
    setFault('');
    setWorking(w.reading);
    for (const file of Array.from(list)) {
      try {
        const opened = await openFile(file);
        setFiles((now) => [...now, opened]);
        if (files.length === 0) change(await guessFrom(opened, wanted));
      } catch (error) {
        setFault(`${w.faulty}: ${file.name}. ${messageOf(error)}`);
      }
    }
    setWorking('');
  };

  const run = async () => {
    setInsist(true);
    if (isFaulty(wanted, files) || working) return;
    setFault('');
    setWorking(checkWords.analysing);
    try {
      // Stays "working" until the reading is shown: a second press in between would read it twice.
      go(href('reading', [await readFiles(wanted, files, place)]));
    } catch (error) {
      setFault(messageOf(error));
      setWorking('');
    }
  };

  return {
    files,
    wanted,
    insist,
    working,
    fault,
    change,
    changeNumber,
    add,
    run,
    changeFile: (i: number, more: Partial<OpenFile>) => setFiles(files.map((f, k) => (k === i ? { ...f, ...more } : f))),
    removeFile: (i: number) => setFiles(files.filter((_, k) => k !== i)),
  };
}

export type Recording = ReturnType<typeof useRecording>;

const messageOf = (error: unknown) => (error instanceof Error ? error.message : String(error));

async function openFile(file: File): Promise<OpenFile> {
  const take = await readWav(new Uint8Array(await file.arrayBuffer()));
  return { name: file.name, take, role: 'driver', resistor: startNumber(KNOWN, undefined), load: startNumber(LOAD, undefined), mass: startNumber(MASS, undefined), box: startNumber(BOX, undefined) };
}

/** One channel can only be a knock; two are most often source and driver, through the resistor of the person's bench. */
async function guessFrom({ name, take }: OpenFile, { part, numbers }: Wanted): Promise<Partial<Wanted>> {
  const { seriesResistorOhm } = await loadBench();
  const known = seriesResistorOhm ? { seriesResistorOhm: startNumber(SPECS.seriesResistorOhm, seriesResistorOhm) } : {};
  return { part: part || name.replace(/\.wav$/i, ''), numbers: { ...numbers, ...known }, ...(take.channels.length === 1 ? { check: 'knock' as const } : {}) };
}

function isFaulty({ check, numbers: n, extras }: Wanted, files: OpenFile[]): boolean {
  if (check === 'impedance') return extrasFaulty(extras) || n.seriesResistorOhm.faulty || n.tolerancePercent.faulty || n.diameter.faulty || files.some((f) => (f.role === 'known_resistor' && f.resistor.faulty) || (f.role === 'driver' && (f.mass.faulty || f.box.faulty)));
  return n.inputResistanceOhm.faulty || n.rEOhm.faulty || n.diameter.faulty || files.some((f) => f.load.faulty || f.mass.faulty || f.box.faulty);
}

function setupFor({ check, sensor, channels, numbers: n, extras }: Wanted): Setup {
  if (check === 'impedance')
    return without({ check, series_resistor_ohm: n.seriesResistorOhm.value, series_resistor_relative_uncertainty: standardFromTolerance(n.tolerancePercent.value), source_channel: channels[0], driver_channel: channels[1], effective_diameter_m: n.diameter.value, ...extrasFields(extras) });
  return without({ check, sensor, channel: channels[0], r_e_ohm: n.rEOhm.value, input_resistance_ohm: sensor === 'coil' ? n.inputResistanceOhm.value : undefined, effective_diameter_m: n.diameter.value });
}

/** Keeps the takes, reads them, keeps the reading. Answers its id. */
async function readFiles(wanted: Wanted, files: OpenFile[], place: Place | undefined): Promise<string> {
  const { check } = wanted;
  const partName = wanted.part.trim() || checkWords.setup.unnamed;
  const uses: TakeUse[] = [];
  for (const file of files) uses.push(await keep(file, check, partName));
  const setup = setupFor(wanted);
  const reading = await analyse(setupWithTakes(setup, uses), files.map((f) => f.take));
  return (await keepReading({ check, partName, note: '', source: 'recording', takes: uses, setup, reading, ...(place ? { place } : {}) })).id;
}

async function keep(file: OpenFile, check: CheckName, partName: string): Promise<TakeUse> {
  const role = check === 'knock' ? 'free' : file.role;
  const about = {
    role,
    resistor_ohm: role === 'known_resistor' ? (file.resistor.value ?? null) : null,
    load_ohm: check === 'knock' ? (file.load.value ?? null) : null,
    added_mass_kg: check === 'knock' || role === 'driver' ? (file.mass.value ?? null) : null,
    box_volume_m3: check === 'knock' || role === 'driver' ? (file.box.value ?? null) : null,
  };
  const id = await keepTake(file.take, { check, partName, source: 'recording', fileName: file.name, ...about });
  return { id, ...about, set_aside: [] };
}
