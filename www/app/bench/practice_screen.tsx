// The practice bench: pick a driver, a fault and a check; then the very same screens follow.
import { useEffect, useState } from 'preact/hooks';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Choice, Fault as FaultLine, Select } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { significant, NBSP } from '../ui/format';
import { go, href } from '../ui/route';
import { Symbol } from '../ui/symbol';
import type { Place } from '../job/keeping';
import { backOf, placeQuery } from '../job/place';
import { checkWords, practiceWords } from '../words/check';
import { faultWordsOf } from '../words/faults';
import { practiceDrivers, practiceFaults, type Fault, type PracticeDriver, type PracticeFault } from './core_calls';

const w = practiceWords;
type Check = keyof typeof w.checks;
/** Faults that a meter can see. */
const FOR_METER: Fault[] = ['none', 'shorted_turns', 'stiff_surround', 'heavy_cone', 'weak_magnet', 'wrong_resistor', 'open_circuit', 'short_circuit'];

export function PracticeScreen({ place }: { place: Place | undefined }) {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const [drivers, setDrivers] = useState<PracticeDriver[]>([]);
  const [faults, setFaults] = useState<PracticeFault[]>([]);
  const [driver, setDriver] = useState('');
  const [fault, setFault] = useState<Fault>('none');
  const [check, setCheck] = useState<Check>('impedance');
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    Promise.all([practiceDrivers(), practiceFaults()]).then(
      ([d, f]) => {
        setDrivers(d);
        setFaults(f);
        setDriver(d[0]?.id ?? '');
      },
      (error: Error) => setTrouble(error.message),
    );
  }, []);
  const fits = (f: PracticeFault) => (check === 'pair' ? f.for_pair : check === 'meter' ? FOR_METER.includes(f.fault) : check === 'loose_joint' ? f.for_loose_joint : check.startsWith('polarity') ? f.for_polarity : check === 'impedance' ? f.for_impedance : check === 'impedance_one_channel' ? f.for_one_channel : check === 'impedance_by_microphone' ? f.for_microphone : f.for_knock);
  const offered = faults.filter(fits);
  const chosen = offered.some((f) => f.fault === fault) ? fault : 'none';
  const start = () => go(href('check', [check], { practice: driver, fault: chosen, ...placeQuery(place) }));
  return (
    <Page kind="check" promise={checkWords.practicePromise}>
      <Sheet
        card={
          <>
            <Slip back={backOf(place)} backLabel={checkWords.back} boxes={{ part: drivers.find((d) => d.id === driver)?.name ?? w.title, check: w.title }} />
            <div class="card-body">
              <div class="instruction">
                <h1 ref={heading} tabIndex={-1}>
                  {w.heading}
                </h1>
                <p class="detail">{w.note}</p>
              </div>
              {trouble && <FaultLine text={trouble} />}
              {drivers.length === 0 && !trouble && <p role="status">{w.loading}</p>}
              {drivers.length > 0 && (
                <>
                  <Drivers drivers={drivers} chosen={driver} onChange={setDriver} />
                  <Choice legend={w.check} options={Object.entries(w.checks).map(([id, label]) => ({ id, label }))} value={check} onChange={(id) => setCheck(id as Check)} />
                  <Select label={w.fault} options={offered.map((f) => ({ id: f.fault, label: faultWordsOf(f.fault) }))} value={chosen} onChange={(id) => setFault(id as Fault)} />
                </>
              )}
            </div>
          </>
        }
        stub={
          <>
            <div class="buttons">
              <Button kind="main" onPress={start} {...(driver ? {} : { notYet: w.loading })}>
                {w.start}
              </Button>
            </div>
            <p class="note">{checkWords.practiceFast}</p>
          </>
        }
      />
    </Page>
  );
}

function Drivers({ drivers, chosen, onChange }: { drivers: PracticeDriver[]; chosen: string; onChange: (id: string) => void }) {
  return (
    <fieldset>
      <legend class="note">{w.driver}</legend>
      <div class="driver-choice">
        {drivers.map((d) => (
          <label key={d.id}>
            <input type="radio" name="driver" checked={d.id === chosen} onChange={() => onChange(d.id)} />
            <span class="name">{d.name}</span>
            <span class="about">
              <Symbol of="f_s" /> {w.about}
              {NBSP}
              {significant(d.truth.f_s_hz, 2)}
              {NBSP}Hz, <Symbol of="r_e" /> {w.about}
              {NBSP}
              {significant(d.truth.r_e_ohm, 2)}
              {NBSP}Ω
            </span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}
