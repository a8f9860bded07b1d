// My bench: asked once, editable for ever.
import { useEffect, useState } from 'preact/hooks';
import { InputSigns } from '../bench/polarity/input_signs';
import { FIELDS, type FieldName } from '../bench/bench_fields';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Choice, TextEntry } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { NumberEntry, startNumber, type NumberState } from '../ui/number_entry';
import { go, href } from '../ui/route';
import { benchWords as w } from '../words/bench';
import { checkWords } from '../words/check';
import { startWords } from '../words/start';
import { Equipment } from './equipment';
import { loadBench, saveBench, type MyBench } from './keeping';

const KEPT: FieldName[] = ['seriesResistorOhm', 'tolerancePercent', 'inputResistanceOhm'];

export function BenchScreen() {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const [bench, setBench] = useState<MyBench>();
  const [numbers, setNumbers] = useState<Partial<Record<FieldName, NumberState>>>({});
  const [insist, setInsist] = useState(false);
  // Here every number may stay empty: a check asks for what it cannot do without.
  const spec = (name: FieldName) => ({ ...FIELDS[name], optional: true });
  useEffect(() => {
    void loadBench().then((kept) => {
      setBench(kept);
      setNumbers(Object.fromEntries(KEPT.map((name) => [name, startNumber(spec(name), FIELDS[name].from(kept))])));
    });
  }, []);
  if (!bench) return null;
  const options = (labels: Record<string, string>) => Object.entries(labels).map(([id, label]) => ({ id, label }));
  const save = async () => {
    setInsist(true);
    if (KEPT.some((name) => numbers[name]?.faulty)) return;
    await saveBench({ ...bench, ...Object.fromEntries(KEPT.map((name) => [name, numbers[name]?.value])) });
    go(href(''));
  };
  const setNumber = (name: FieldName, state: NumberState) => setNumbers((now) => ({ ...now, [name]: state }));
  const forget = () => setBench({ ...bench, inputDevice: undefined, outputDevice: undefined } as MyBench);
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={href('')} backLabel={checkWords.back} boxes={{ check: w.title }} />
            <div class="card-body">
              <div class="instruction">
                <h1 ref={heading} tabIndex={-1}>
                  {w.heading}
                </h1>
                <p class="detail">{w.about}</p>
              </div>
              <Equipment legend={startWords.equipment.legend} items={bench.items ?? []} onItems={(items) => setBench({ ...bench, items })} />
              <div class="fields">
                {KEPT.map((name) => (
                  <NumberEntry key={name} spec={spec(name)} insist={insist} state={numbers[name] ?? startNumber(spec(name), undefined)} onState={(state) => setNumber(name, state)} onTolerance={(percent) => setNumber('tolerancePercent', startNumber(spec('tolerancePercent'), percent))} />
                ))}
                <TextEntry label={w.meter} text={bench.meter ?? ''} onText={(meter) => setBench({ ...bench, meter })} help={w.meterHelp} />
                <Choice legend={w.output} options={options(w.outputs)} value={bench.output ?? ''} onChange={(id) => setBench({ ...bench, output: id as 'headphones' | 'amplifier' })} />
                <Choice legend={w.socket} options={options(w.sockets)} value={bench.socket ?? ''} onChange={(id) => setBench({ ...bench, socket: id as NonNullable<MyBench['socket']> })} />
              </div>
              <InputSigns bench={bench} change={(more) => setBench({ ...bench, ...more })} />
              {(bench.inputDevice ?? bench.outputDevice) && (
                <p>
                  {w.inputDevice}: {bench.inputDevice?.label ?? w.systemDevice}.{' '}
                  <button type="button" class="text-button" onClick={forget}>
                    {w.forgetDevices}
                  </button>
                </p>
              )}
            </div>
          </>
        }
        stub={
          <div class="buttons">
            <Button kind="main" onPress={() => void save()}>
              {w.save}
            </Button>
            <Button kind="quiet" href={href('')}>
              {w.back}
            </Button>
          </div>
        }
      />
    </Page>
  );
}
