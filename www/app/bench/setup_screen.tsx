// Before a live check: name the part, choose input and output, state the values that the check works with. What is typed
// here is kept as the person's bench.
import { useEffect, useState } from 'preact/hooks';
import { listDevices, canChooseOutput, findAgain, onDevicesChanged, type Devices } from '../audio/devices';
import { AudioProblem, openSession } from '../audio/session';
import { audioProblemWords, AUDIO_CAUTION_WORDS, type ProblemWords } from '../words/audio-problems';
import { loadBench, saveBench, type MyBench, type Place } from '../job/keeping';
import { backOf } from '../job/place';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Choice, Select, TextEntry } from '../ui/controls';
import { StateMark } from '../ui/marks';
import { NumberEntry, startNumber, type NumberState } from '../ui/number_entry';
import { href } from '../ui/route';
import { useTitle } from '../ui/focus';
import { benchWords } from '../words/bench';
import { checkWords } from '../words/check';
import { words } from '../words/common';
import { FIELDS, type FieldName } from './bench_fields';
import { without, type Setup } from './analysis';
import { knownSign } from './polarity/input_sign';
import { InputSigns } from './polarity/input_signs';
import type { BenchOf, CheckName } from './core_calls';
import type { Hands } from './hands';
import { liveHands } from './live_hands';

const w = checkWords.setup;
const b = benchWords;

export interface Opened<C extends CheckName> {
  check: C;
  bench: BenchOf[C];
  hands: Hands;
  partName: string;
  title: string;
  extra: Setup;
}

interface Props {
  check: CheckName;
  sensor: 'coil' | 'microphone';
  partName?: string;
  place?: Place | undefined;
  onOpened: (opened: Opened<CheckName>) => void;
}

export function SetupScreen(props: Props) {
  const { check, sensor } = props;
  const title = titleFor(check, sensor);
  const heading = useTitle<HTMLHeadingElement>(title);
  const setup = useSetup(props, title);
  if (!setup) return null;
  const { bench, part, problem, opening } = setup;
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={backOf(props.place)} backLabel={checkWords.back} boxes={{ part: part || w.unnamed, check: title }} />
            <div class="card-body">
              <div class="instruction">
                <h1 ref={heading} tabIndex={-1}>
                  {w.open1}
                </h1>
                <p class="detail">{w.note}</p>
              </div>
              {problem && <Problem problem={problem} />}
              <TextEntry label={w.part} text={part} onText={setup.setPart} help={w.partHelp} />
              <div class="fields">
                {setup.wanted.map((name) => (
                  <NumberEntry key={name} spec={FIELDS[name]} insist={setup.insist} state={setup.stateOf(name)} onState={(state) => setup.setNumber(name, state)} onTolerance={(percent) => setup.setNumber('tolerancePercent', startNumber(FIELDS.tolerancePercent, percent))} />
                ))}
                <Choices check={check} sensor={sensor} bench={bench} change={setup.change} />
                <DeviceChoices check={check} bench={bench} devices={setup.devices} change={setup.change} />
              </div>
              {check === 'polarity' && sensor === 'coil' && <InputSigns bench={bench} change={setup.change} />}
            </div>
          </>
        }
        stub={
          <>
            <div class="buttons">
              <Button kind="main" onPress={() => void setup.open()} {...(opening ? { notYet: w.opening } : {})}>
                {problem ? w.tryAgain : w.open}
              </Button>
              {problem && (
                <Button kind="plain" href={href('practice')}>
                  {w.practiceInstead}
                </Button>
              )}
            </div>
            <p class="note">{sensor === 'microphone' && check !== 'polarity' ? AUDIO_CAUTION_WORDS.phone_microphone : w.note}</p>
          </>
        }
      />
    </Page>
  );
}

export function titleFor(check: CheckName, sensor: 'coil' | 'microphone'): string {
  if (check === 'polarity') return sensor === 'coil' ? words.checks.polarity_push : words.checks.polarity_pulse;
  if (check !== 'knock') return words.checks[check];
  return sensor === 'coil' ? words.checks.knock_coil : words.checks.knock_microphone;
}

/** Checks on the jig of known resistor and two inputs. */
const usesJig = (check: CheckName) => check === 'impedance' || check === 'loose_joint';

/** Numbers that the check cannot do without, or does better with. */
function wantedNumbers(check: CheckName, sensor: 'coil' | 'microphone'): FieldName[] {
  if (check === 'loose_joint') return ['seriesResistorOhm'];
  if (check === 'impedance_by_microphone') return ['closeResistorOhm', 'tolerancePercent'];
  if (check === 'polarity') return [];
  if (check === 'pair') return ['inputResistanceOhm'];
  if (check !== 'knock') return ['seriesResistorOhm', 'tolerancePercent', 'inputResistanceOhm'];
  return sensor === 'coil' ? ['inputResistanceOhm', 'rEOhm'] : ['rEOhm'];
}

/** What is typed and chosen before the input opens; none until the kept bench has been read. */
function useSetup({ check, sensor, partName = '', onOpened }: Props, title: string) {
  const [bench, setBench] = useState<MyBench>();
  const [part, setPart] = useState(partName);
  const [numbers, setNumbers] = useState<Numbers>({});
  const [insist, setInsist] = useState(false);
  const [devices, setDevices] = useState<Devices>({ inputs: [], outputs: [], labelled: false });
  const [opening, setOpening] = useState(false);
  const [problem, setProblem] = useState<ProblemWords>();
  const wanted = wantedNumbers(check, sensor);
  const refresh = () => void listDevices().then(setDevices, () => undefined);
  useEffect(() => {
    void loadBench().then((kept) => {
      setNumbers(Object.fromEntries(wanted.map((name) => [name, startNumber(FIELDS[name], FIELDS[name].from(kept))])));
      setBench(kept);
    });
    refresh();
    return onDevicesChanged(refresh);
  }, []);
  if (!bench) return undefined;
  const open = async () => {
    setInsist(true);
    if (opening || wanted.some((name) => numbers[name]?.faulty ?? true)) return;
    const now: MyBench = { ...bench, ...keptNumbers(wanted, numbers) };
    setOpening(true);
    setProblem(undefined);
    void saveBench(now);
    try {
      const hands = await openHands(check, bench, devices);
      const extra = check === 'impedance' || check === 'impedance_one_channel' ? without({ input_resistance_ohm: now.inputResistanceOhm }) : {};
      onOpened({ check, title, hands, partName: part.trim() || w.unnamed, bench: benchFor(check, sensor, now, hands, numbers), extra });
    } catch (error) {
      setProblem(error instanceof AudioProblem ? audioProblemWords(error.code, error.detail) : { what: String(error), remedy: w.tryAgain });
      setOpening(false);
      refresh();
    }
  };
  const stateOf = (name: FieldName) => numbers[name] ?? startNumber(FIELDS[name], undefined);
  const setNumber = (name: FieldName, state: NumberState) => setNumbers((now) => ({ ...now, [name]: state }));
  return { bench, part, setPart, wanted, insist, devices, opening, problem, open, stateOf, setNumber, change: (more: Partial<MyBench>) => setBench({ ...bench, ...more }) };
}

type Numbers = Partial<Record<FieldName, NumberState>>;

/** What of the numbers belongs to the bench; the others belong to one part only. */
function keptNumbers(wanted: FieldName[], numbers: Numbers): Partial<MyBench> {
  return Object.fromEntries(wanted.filter((n) => FIELDS[n].keep).map((n) => [n, FIELDS[n].shown(numbers[n]?.value)]));
}

/** Opens the sound; call it inside a click. */
async function openHands(check: CheckName, bench: MyBench, devices: Devices): Promise<Hands> {
  const session = await openSession({
    inputDeviceId: bench.inputDevice && findAgain(devices.inputs, bench.inputDevice)?.id,
    outputDeviceId: bench.outputDevice && findAgain(devices.outputs, bench.outputDevice)?.id,
    needsChannels: usesJig(check) || check === 'pair' ? 2 : 1,
  });
  return liveHands(session);
}

function Problem({ problem }: { problem: ProblemWords }) {
  return (
    <div class="notice" role="alert">
      <StateMark name="caution" size={36} />
      <div>
        <h2>{problem.what}</h2>
        <p class="do">{problem.remedy}</p>
      </div>
    </div>
  );
}

function Choices({ check, sensor, bench, change }: { check: CheckName; sensor: 'coil' | 'microphone'; bench: MyBench; change: (more: Partial<MyBench>) => void }) {
  const options = (labels: Record<string, string>) => Object.entries(labels).map(([id, label]) => ({ id, label }));
  if (usesJig(check)) {
    return (
      <>
        <Choice legend={b.output} options={options(b.outputs)} value={bench.output ?? 'headphones'} onChange={(id) => change({ output: id as 'headphones' | 'amplifier' })} />
        <Choice legend={b.sourceChannel} options={options(b.channels)} value={String(bench.sourceChannel ?? 1)} onChange={(id) => change({ sourceChannel: Number(id) })} help={b.channelHelp} />
      </>
    );
  }
  if (check === 'impedance_one_channel') {
    return <Choice legend={b.oneChannel} options={options(b.channels)} value={String(bench.oneChannel ?? 1)} onChange={(id) => change({ oneChannel: Number(id) })} help={b.oneChannelHelp} />;
  }
  if (check === 'pair') {
    return <Choice legend={b.firstChannel} options={options(b.channels)} value={String(bench.firstChannel ?? 1)} onChange={(id) => change({ firstChannel: Number(id) })} help={b.firstChannelHelp} />;
  }
  if (sensor === 'microphone') return null;
  return (
    <>
      {check === 'knock' && <Choice legend={b.socket} options={options(b.sockets)} value={bench.socket ?? 'line'} onChange={(id) => change({ socket: id as NonNullable<MyBench['socket']> })} />}
      <Choice legend={b.knockChannel} options={options(b.channels)} value={String(bench.knockChannel ?? 1)} onChange={(id) => change({ knockChannel: Number(id) })} />
    </>
  );
}

function DeviceChoices({ check, bench, devices, change }: { check: CheckName; bench: MyBench; devices: Devices; change: (more: Partial<MyBench>) => void }) {
  const system = { id: '', label: b.systemDevice };
  const pick = (list: Devices['inputs'], kept: { id: string; label: string } | undefined) => (kept ? (findAgain(list, kept)?.id ?? '') : '');
  const named = (list: Devices['inputs']) => list.filter((d) => d.label !== '');
  const find = (list: Devices['inputs'], id: string) => list.find((d) => d.id === id);
  return (
    <>
      <Select label={b.inputDevice} options={[system, ...named(devices.inputs)]} value={pick(devices.inputs, bench.inputDevice)} onChange={(id) => change({ inputDevice: find(devices.inputs, id) } as Partial<MyBench>)} {...(devices.labelled ? {} : { help: b.namesHidden })} />
      {check !== 'knock' && check !== 'pair' && canChooseOutput() && (
        <Select label={b.outputDevice} options={[system, ...named(devices.outputs)]} value={pick(devices.outputs, bench.outputDevice)} onChange={(id) => change({ outputDevice: find(devices.outputs, id) } as Partial<MyBench>)} />
      )}
    </>
  );
}

/** What the procedure is told of the bench. */
function benchFor(check: CheckName, sensor: 'coil' | 'microphone', bench: MyBench, { rateHz, inputLabel }: Hands, numbers: Partial<Record<FieldName, NumberState>>): BenchOf[CheckName] {
  if (check === 'polarity') {
    const method = sensor === 'coil' ? 'push' : 'pulse';
    return { method, channel: method === 'push' ? (bench.knockChannel ?? 1) : 1, rate_hz: rateHz, input_inverts: knownSign(bench, inputLabel, method), practice: false };
  }
  if (check === 'pair') {
    const first = bench.firstChannel ?? 1;
    return { first_channel: first, second_channel: first === 1 ? 2 : 1, input_resistance_ohm: bench.inputResistanceOhm ?? null, practice: false };
  }
  if (usesJig(check)) {
    const source = bench.sourceChannel ?? 1;
    return {
      series_resistor_ohm: bench.seriesResistorOhm ?? NaN,
      series_resistor_relative_uncertainty: standardFromTolerance(bench.tolerancePercent),
      source_channel: source,
      driver_channel: source === 1 ? 2 : 1,
      output: bench.output ?? 'headphones',
      limit_v: null,
      rate_hz: rateHz,
      new_device: true,
      practice: false,
    };
  }
  if (check === 'impedance_one_channel') {
    return {
      series_resistor_ohm: bench.seriesResistorOhm ?? NaN,
      series_resistor_relative_uncertainty: standardFromTolerance(bench.tolerancePercent),
      channel: bench.oneChannel ?? 1,
      rate_hz: rateHz,
      new_device: true,
      practice: false,
    };
  }
  if (check === 'impedance_by_microphone') {
    return {
      series_resistor_ohm: bench.closeResistorOhm ?? NaN,
      series_resistor_relative_uncertainty: standardFromTolerance(bench.tolerancePercent),
      channel: 1,
      limit_v: null,
      rate_hz: rateHz,
      practice: false,
    };
  }
  return {
    sensor,
    channel: sensor === 'coil' ? (bench.knockChannel ?? 1) : 1,
    socket: sensor === 'coil' ? (bench.socket ?? 'line') : null,
    r_e_ohm: numbers.rEOhm?.value ?? null,
    input_resistance_ohm: sensor === 'coil' ? (bench.inputResistanceOhm ?? null) : null,
    effective_diameter_m: null,
    practice: false,
  };
}

/** A tolerance is the half-width of a uniform distribution: one standard uncertainty is 1/√3 of it (GUM 4.3.7). */
export function standardFromTolerance(percent: number | undefined): number | null {
  return percent === undefined ? null : percent / 100 / Math.sqrt(3);
}
