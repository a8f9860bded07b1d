// Before the check by meter: part, resistor, meter, and where the tones come from.
import { useEffect, useState } from 'preact/hooks';
import type { MeterAccuracy, MeterBench } from '../../core/types.gen';
import { loadBench, saveBench, type MyBench } from '../../job/keeping';
import { Page, Sheet, Slip } from '../../ui/card';
import { Button, Choice, Select, TextEntry } from '../../ui/controls';
import { useTitle } from '../../ui/focus';
import { NumberEntry, startNumber, type NumberSpec, type NumberState } from '../../ui/number_entry';
import type { Place } from '../../job/keeping';
import { backOf } from '../../job/place';
import { benchWords as b } from '../../words/bench';
import { checkWords } from '../../words/check';
import { meterWords as w } from '../../words/meter';
import { FIELDS } from '../bench_fields';
import { standardFromTolerance, type Opened } from '../setup_screen';
import { meterHands } from './hands';

/** Classes of meters. Common practice, no source; the last digit in volts up to the range, then ten times that. */
export const METERS: Record<'hand' | 'better' | 'bench' | 'coarse', MeterAccuracy> = {
  hand: { percent_of_reading: 1, counts: 5, resolution_v: 0.001, resolution_above_v: 2 },
  better: { percent_of_reading: 0.5, counts: 3, resolution_v: 0.001, resolution_above_v: 6 },
  bench: { percent_of_reading: 0.2, counts: 10, resolution_v: 0.0001, resolution_above_v: 2 },
  coarse: { percent_of_reading: 1.2, counts: 3, resolution_v: 0.1, resolution_above_v: 200 },
};
type MeterClass = keyof typeof METERS | 'own';

const SPECS: Record<'resistor' | 'tolerance' | 'limit' | 'percent' | 'counts' | 'resolution' | 'range', NumberSpec> = {
  resistor: FIELDS.seriesResistorOhm,
  tolerance: FIELDS.tolerancePercent,
  limit: { label: w.limit, unit: 'V', low: 0.05, high: 20, optional: true, help: w.limitHelp },
  percent: { label: w.percent, unit: '%', low: 0, high: 20 },
  counts: { label: w.counts, unit: '', low: 0, high: 1000 },
  resolution: { label: w.resolution, unit: 'mV', scale: 0.001, low: 1e-8, high: 10, help: w.resolutionHelp },
  range: { label: w.range, unit: 'V', low: 1e-6, high: 1e4, optional: true, help: w.rangeHelp },
};
type Name = keyof typeof SPECS;
const OWN: Name[] = ['percent', 'counts', 'resolution', 'range'];

export function MeterSetup({ partName = '', place, onOpened }: { partName?: string; place?: Place | undefined; onOpened: (opened: Opened<'meter'>) => void }) {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const [bench, setBench] = useState<MyBench>();
  const [part, setPart] = useState(partName);
  const [numbers, setNumbers] = useState<Partial<Record<Name, NumberState>>>({});
  const [insist, setInsist] = useState(false);
  const [from, setFrom] = useState<'page' | 'elsewhere'>('page');
  useEffect(() => {
    void loadBench().then((kept) => {
      const own = kept.meterAccuracy;
      const start = { resistor: kept.seriesResistorOhm, tolerance: kept.tolerancePercent ?? 1, limit: undefined, percent: own?.percent_of_reading, counts: own?.counts, resolution: own?.resolution_v, range: own?.resolution_above_v };
      setNumbers(Object.fromEntries(Object.entries(start).map(([name, value]) => [name, startNumber(SPECS[name as Name], value)])));
      setBench(kept);
    });
  }, []);
  if (!bench) return null;
  const kind: MeterClass = bench.meterClass ?? 'hand';
  const across = bench.meterAcross ?? 'resistor';
  const wanted: Name[] = ['resistor', 'tolerance', ...(from === 'page' ? (['limit'] as Name[]) : []), ...(kind === 'own' ? OWN : [])];
  const change = (more: Partial<MyBench>) => setBench({ ...bench, ...more });
  const options = (labels: Record<string, string>) => Object.entries(labels).map(([id, label]) => ({ id, label }));
  const open = () => {
    setInsist(true);
    if (wanted.some((name) => numbers[name]?.faulty ?? true)) return;
    const value = (name: Name) => numbers[name]?.value;
    const range = value('range');
    const accuracy: MeterAccuracy = kind === 'own' ? { percent_of_reading: value('percent') ?? 0, counts: value('counts') ?? 0, resolution_v: value('resolution') ?? 0.001, ...(range === undefined ? {} : { resolution_above_v: range }) } : METERS[kind];
    const resistor = value('resistor') ?? NaN;
    const tolerance = value('tolerance') ?? 1;
    void saveBench({ ...bench, seriesResistorOhm: resistor, tolerancePercent: tolerance, meterAccuracy: accuracy });
    const hands = meterHands(from === 'elsewhere');
    const setup: MeterBench = {
      series_resistor_ohm: resistor,
      series_resistor_relative_uncertainty: standardFromTolerance(tolerance),
      accuracy,
      across,
      output: bench.output ?? 'amplifier',
      limit_v: value('limit') ?? null,
      rate_hz: hands.rateHz,
      by_hand: from === 'elsewhere',
      practice: false,
    };
    onOpened({ check: 'meter', title: w.title, hands, partName: part.trim() || checkWords.setup.unnamed, bench: setup, extra: {} });
  };
  const entry = (name: Name) => <NumberEntry key={name} spec={SPECS[name]} insist={insist} state={numbers[name] ?? startNumber(SPECS[name], undefined)} onState={(state) => setNumbers({ ...numbers, [name]: state })} />;
  return (
    <Page kind="check" promise={w.promise}>
      <Sheet
        card={
          <>
            <Slip back={backOf(place)} backLabel={checkWords.back} boxes={{ part: part || checkWords.setup.unnamed, check: w.title }} />
            <div class="card-body">
              <div class="instruction">
                <h1 ref={heading} tabIndex={-1}>
                  {w.heading}
                </h1>
                <p class="detail">{w.note}</p>
              </div>
              <TextEntry label={checkWords.setup.part} text={part} onText={setPart} help={checkWords.setup.partHelp} />
              <div class="fields">
                {entry('resistor')}
                {entry('tolerance')}
                <Choice legend={w.from} options={options(w.fromOptions)} value={from} onChange={(id) => setFrom(id as 'page' | 'elsewhere')} />
                <Choice legend={w.across} options={options(w.acrossOptions)} value={across} onChange={(id) => change({ meterAcross: id as 'resistor' | 'both' })} help={w.acrossHelp} />
                {from === 'page' && <Choice legend={b.output} options={options(b.outputs)} value={bench.output ?? 'amplifier'} onChange={(id) => change({ output: id as 'headphones' | 'amplifier' })} />}
                {from === 'page' && entry('limit')}
                <Select label={w.meter} options={options(w.meters)} value={kind} onChange={(id) => change({ meterClass: id as MeterClass })} help={w.meterHelp} />
                {kind === 'own' && OWN.map(entry)}
              </div>
            </div>
          </>
        }
        stub={
          <>
            <div class="buttons">
              <Button kind="main" onPress={open}>
                {w.start}
              </Button>
            </div>
            <p class="note">{from === 'page' ? w.promise : w.byHandPromise}</p>
          </>
        }
      />
    </Page>
  );
}
