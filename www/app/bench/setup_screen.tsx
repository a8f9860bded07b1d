// Before a live check: name the part, choose input and output, state the values that the check works with. What is typed
// here is kept as the person's bench.
import { useEffect, useState } from 'preact/hooks';
import { listDevices, canChooseOutput, findAgain, onDevicesChanged, type Devices } from '../audio/devices';
import { AudioProblem, openSession } from '../audio/session';
import { audioProblemWords, AUDIO_CAUTION_WORDS, type ProblemWords } from '../words/audio-problems';
import { loadBench, saveBench, type MyBench } from '../job/keeping';
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
  onOpened: (opened: Opened<CheckName>) => void;
}

export function SetupScreen({ check, sensor, partName = '', onOpened }: Props) {
  const title = check === 'impedance' ? words.checks.impedance : sensor === 'coil' ? words.checks.knock_coil : words.checks.knock_microphone;
  const heading = useTitle<HTMLHeadingElement>(title);
  const [bench, setBench] = useState<MyBench>();
  const [part, setPart] = useState(partName);
  const [numbers, setNumbers] = useState<Partial<Record<FieldName, NumberState>>>({});
  const [insist, setInsist] = useState(false);
  const [devices, setDevices] = useState<Devices>({ inputs: [], outputs: [], labelled: false });
  const [opening, setOpening] = useState(false);
  const [problem, setProblem] = useState<ProblemWords>();
  const wanted: FieldName[] = check === 'impedance' ? ['seriesResistorOhm', 'tolerancePercent', 'inputResistanceOhm'] : sensor === 'coil' ? ['inputResistanceOhm', 'rEOhm'] : ['rEOhm'];
  useEffect(() => {
    void loadBench().then((kept) => {
      setBench(kept);
      setNumbers(Object.fromEntries(wanted.map((name) => [name, startNumber(FIELDS[name], FIELDS[name].from(kept))])));
    });
    const refresh = () => void listDevices().then(setDevices, () => undefined);
    refresh();
    return onDevicesChanged(refresh);
  }, []);
  if (!bench) return null;
  const change = (more: Partial<MyBench>) => setBench({ ...bench, ...more });
  const faulty = wanted.some((name) => numbers[name]?.faulty ?? true);

  const open = async () => {
    setInsist(true);
    if (faulty || opening) return;
    const typed = Object.fromEntries(wanted.filter((n) => FIELDS[n].keep).map((n) => [n, FIELDS[n].shown(numbers[n]?.value)]));
    const now: MyBench = { ...bench, ...typed };
    setOpening(true);
    setProblem(undefined);
    void saveBench(now);
    try {
      const session = await openSession({
        inputDeviceId: bench.inputDevice && findAgain(devices.inputs, bench.inputDevice)?.id,
        outputDeviceId: bench.outputDevice && findAgain(devices.outputs, bench.outputDevice)?.id,
        needsChannels: check === 'impedance' ? 2 : 1,
      });
      const hands = liveHands(session);
      onOpened({ check, title, hands, partName: part.trim() || w.unnamed, bench: benchFor(check, sensor, now, hands.rateHz, numbers), extra: check === 'impedance' ? without({ input_resistance_ohm: now.inputResistanceOhm }) : {} });
    } catch (error) {
      setProblem(error instanceof AudioProblem ? audioProblemWords(error.code, error.detail) : { what: String(error), remedy: w.tryAgain });
      setOpening(false);
      void listDevices().then(setDevices, () => undefined);
    }
  };

  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={href('')} backLabel={checkWords.back} boxes={{ part: part || w.unnamed, check: title }} />
            <div class="card-body">
              <div class="instruction">
                <h1 ref={heading} tabIndex={-1}>
                  {w[check]}
                </h1>
                <p class="detail">{w.note}</p>
              </div>
              {problem && <Problem problem={problem} />}
              <TextEntry label={w.part} text={part} onText={setPart} help={w.partHelp} />
              <div class="fields">
                {wanted.map((name) => (
                  <NumberEntry key={name} spec={FIELDS[name]} insist={insist} state={numbers[name] ?? startNumber(FIELDS[name], undefined)} onState={(state) => setNumbers({ ...numbers, [name]: state })} />
                ))}
                <Choices check={check} sensor={sensor} bench={bench} change={change} />
                <DeviceChoices check={check} bench={bench} devices={devices} change={change} />
              </div>
            </div>
          </>
        }
        stub={
          <>
            <div class="buttons">
              <Button kind="main" onPress={() => void open()} {...(opening ? { notYet: w.opening } : {})}>
                {problem ? w.tryAgain : w.open}
              </Button>
              {problem && (
                <Button kind="plain" href={href('practice')}>
                  {w.practiceInstead}
                </Button>
              )}
            </div>
            <p class="note">{check === 'knock' && sensor === 'microphone' ? AUDIO_CAUTION_WORDS.phone_microphone : w.note}</p>
          </>
        }
      />
    </Page>
  );
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
  if (check === 'impedance') {
    return (
      <>
        <Choice legend={b.output} options={options(b.outputs)} value={bench.output ?? 'headphones'} onChange={(id) => change({ output: id as 'headphones' | 'amplifier' })} />
        <Choice legend={b.sourceChannel} options={options(b.channels)} value={String(bench.sourceChannel ?? 1)} onChange={(id) => change({ sourceChannel: Number(id) })} help={b.channelHelp} />
      </>
    );
  }
  if (sensor === 'microphone') return null;
  return (
    <>
      <Choice legend={b.socket} options={options(b.sockets)} value={bench.socket ?? 'line'} onChange={(id) => change({ socket: id as NonNullable<MyBench['socket']> })} />
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
      {check === 'impedance' && canChooseOutput() && (
        <Select label={b.outputDevice} options={[system, ...named(devices.outputs)]} value={pick(devices.outputs, bench.outputDevice)} onChange={(id) => change({ outputDevice: find(devices.outputs, id) } as Partial<MyBench>)} />
      )}
    </>
  );
}

/** What the procedure is told of the bench. */
function benchFor(check: CheckName, sensor: 'coil' | 'microphone', bench: MyBench, rateHz: number, numbers: Partial<Record<FieldName, NumberState>>): BenchOf[CheckName] {
  if (check === 'impedance') {
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
