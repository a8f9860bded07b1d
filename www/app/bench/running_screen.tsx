// Opens the hands for the check that the address names, and hands over to the runner.
import { useEffect, useState } from 'preact/hooks';
import { go, href, type Route } from '../ui/route';
import { CheckScreen, type CheckScreenProps } from './check_screen';
import { practiceDrivers, type BenchOf, type CheckName, type Fault } from './core_calls';
import type { Hands } from './hands';
import { putDown, takeUp } from './open_hands';
import { runById, takeById, type KeptRun, type Place } from '../job/keeping';
import { placeOf, usePlaceName } from '../job/place';
import type { PageTake } from '../core/types.gen';
import { practiceHands } from './practice_hands';
import { METERS, MeterSetup } from './meter/setup';
import { SetupScreen, titleFor, type Opened } from './setup_screen';

/** A check under way goes on where it stood: its takes come out of the store, its happenings are replayed. */
export function ResumedCheck({ id }: { id: string }) {
  const [run, setRun] = useState<KeptRun>();
  const [takes, setTakes] = useState<Map<string, PageTake>>();
  const [props, setProps] = useState<Props>();
  useEffect(() => {
    void loadRun(id).then((found) => {
      if (!found) return go(href(''), true);
      setTakes(found.takes);
      setRun(found.run);
      if (found.run.source === 'practice') setProps(resumed(found.run, found.takes, practiceHandsOf(found.run)));
    });
    return putDown;
  }, [id]);
  if (props) return <CheckScreen {...props} />;
  if (!run || !takes) return null;
  const check = checkOf(run.check);
  const sensor = sensorOf(run);
  const goOn = (opened: Opened<CheckName>) => {
    takeUp(opened.hands);
    setProps({ ...opened, ...resumed(run, takes, opened.hands) });
  };
  if (check === 'meter') return <MeterSetup partName={run.partName} onOpened={goOn} />;
  return <SetupScreen check={check} sensor={sensor} partName={run.partName} onOpened={goOn} />;
}

const sensorOf = ({ bench, check }: KeptRun) => (bench['sensor'] === 'microphone' || bench['method'] === 'pulse' || check === 'impedance_by_microphone' ? 'microphone' : 'coil');

async function loadRun(id: string): Promise<{ run: KeptRun; takes: Map<string, PageTake> } | undefined> {
  const run = await runById(id);
  if (!run) return undefined;
  const takes = new Map<string, PageTake>();
  for (const h of run.history) {
    const take = h.kind === 'took' ? await takeById(h.take.id) : undefined;
    if (h.kind === 'took' && take) takes.set(h.take.id, take);
  }
  return { run, takes };
}

function practiceHandsOf(run: KeptRun): Hands {
  const sensor = sensorOf(run);
  // Takes so far count, so that the next one gets a seed of its own.
  const hands = practiceHands({ driver: run.practice?.driver ?? '', fault: (run.practice?.fault ?? 'none') as Fault, sensor, ...jigOf(checkOf(run.check)) }, run.history.length + 1);
  takeUp(hands);
  return hands;
}

function resumed(run: KeptRun, takes: Map<string, PageTake>, hands: Hands): Props {
  const check = checkOf(run.check);
  const bench = { ...run.bench, ...(check === 'knock' || check === 'pair' ? {} : { rate_hz: hands.rateHz }) } as unknown as BenchOf[CheckName];
  return { check, title: titleFor(check, sensorOf(run)), bench, hands, partName: run.partName, practice: run.practice, place: run.place, resume: { run, takes } };
}

/** The check by the name in an address or a kept run. */
export function checkOf(name: string): CheckName {
  return (['knock', 'pair', 'polarity', 'loose_joint', 'impedance_one_channel', 'impedance_by_microphone', 'meter'] as const).find((check) => name.startsWith(check)) ?? 'impedance';
}

/** Resistor and meter of the practice bench, where a meter is held by hand. */
const PRACTICE_METER = { resistorOhm: 10, accuracy: METERS.better };

/** What is printed on the resistors of the practice bench. */
const PRACTICE_OHM = 47;
const PRACTICE_CLOSE_OHM = 8.2;

/** What hangs where on the practice bench. */
const jigOf = (check: CheckName) => ({ oneInput: check === 'impedance_one_channel', close: check === 'impedance_by_microphone', pair: check === 'pair', meter: PRACTICE_METER });

type Props = CheckScreenProps;

/** A live check: set up first, as sound opens only at a press. */
export function LiveCheck({ check, sensor, place }: { check: CheckName; sensor: 'coil' | 'microphone'; place: Place | undefined }) {
  const [props, setProps] = useState<Props>();
  const partName = usePlaceName(place);
  useEffect(() => putDown, []);
  if (props) return <CheckScreen {...props} />;
  const begin = (opened: Opened<CheckName>) => {
    takeUp(opened.hands);
    setProps({ ...opened, practice: undefined, place });
  };
  if (partName === undefined) return null;
  return check === 'meter' ? <MeterSetup partName={partName} place={place} onOpened={begin} /> : <SetupScreen check={check} sensor={sensor} partName={partName} place={place} onOpened={begin} />;
}

/** A check on the practice bench needs nothing opened. */
export function PracticeCheck({ route }: { route: Route }) {
  const place = placeOf(route.query);
  const [props, setProps] = useState<Props>();
  const [kind = 'impedance'] = route.parts;
  const driver = route.query.get('practice') ?? '';
  const fault = (route.query.get('fault') ?? 'none') as Fault;
  useEffect(() => {
    const check = checkOf(kind);
    const sensor = /_(microphone|pulse)$/.test(kind) ? 'microphone' : 'coil';
    const hands = practiceHands({ driver, fault, sensor, ...jigOf(check) });
    takeUp(hands);
    practiceDrivers().then(
      (drivers) => {
        const found = drivers.find((d) => d.id === driver);
        if (!found) return go(href('practice'), true);
        const title = titleFor(check, sensor);
        setProps({ check, title, hands, partName: found.name, practice: { driver, fault, seed: 1 }, place, bench: practiceBench(check, sensor, hands.rateHz) });
      },
      () => go(href('practice'), true),
    );
    return putDown;
  }, []);
  return props ? <CheckScreen {...props} /> : null;
}

function practiceBench(check: CheckName, sensor: 'coil' | 'microphone', rateHz: number): BenchOf[CheckName] {
  if (check === 'meter') {
    const { resistorOhm, accuracy } = PRACTICE_METER;
    return { series_resistor_ohm: resistorOhm, series_resistor_relative_uncertainty: 0.01 / Math.sqrt(3), accuracy, across: 'resistor', output: 'amplifier', limit_v: null, rate_hz: rateHz, by_hand: false, practice: true };
  }
  if (check === 'pair') return { first_channel: 1, second_channel: 2, input_resistance_ohm: 47_000, practice: true };
  if (check === 'polarity') return { method: sensor === 'coil' ? 'push' : 'pulse', channel: 1, rate_hz: rateHz, input_inverts: sensor === 'coil' ? null : false, practice: true };
  if (check === 'impedance' || check === 'loose_joint') {
    return { series_resistor_ohm: PRACTICE_OHM, series_resistor_relative_uncertainty: 0.01 / Math.sqrt(3), source_channel: 1, driver_channel: 2, output: 'headphones', limit_v: null, rate_hz: rateHz, new_device: false, practice: true };
  }
  if (check === 'impedance_one_channel') {
    return { series_resistor_ohm: PRACTICE_OHM, series_resistor_relative_uncertainty: 0.01 / Math.sqrt(3), channel: 1, rate_hz: rateHz, new_device: false, practice: true };
  }
  if (check === 'impedance_by_microphone') {
    return { series_resistor_ohm: PRACTICE_CLOSE_OHM, series_resistor_relative_uncertainty: 0.01 / Math.sqrt(3), channel: 1, limit_v: null, rate_hz: rateHz, practice: true };
  }
  return { sensor, channel: 1, socket: sensor === 'coil' ? 'line' : null, r_e_ohm: null, input_resistance_ohm: sensor === 'coil' ? 47_000 : null, effective_diameter_m: null, practice: true };
}
