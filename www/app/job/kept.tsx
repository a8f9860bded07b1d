// Kept readings: open, analyse again, delete with undo; and what stands on the bench.
import { useEffect, useState } from 'preact/hooks';
import { analyseAgain, titleOf } from '../bench/kept_screen';
import { bytes, fixed, forEntry, NBSP } from '../ui/format';
import { Button } from '../ui/controls';
import { figureText } from '../ui/figure';
import { StateMark } from '../ui/marks';
import { Sheet } from '../ui/card';
import { Symbol } from '../ui/symbol';
import { href, go } from '../ui/route';
import { benchWords } from '../words/bench';
import { words } from '../words/common';
import { figureWords } from '../words/figures';
import { startWords } from '../words/start';
import { faultWordsOf } from '../words/faults';
import { keepingTrouble, keptBytes, listReadings, loadBench, removeReading, type KeptReading, type MyBench } from './keeping';
import { when } from './when';

const w = startWords.kept;

export function KeptReadings() {
  const [list, setList] = useState<KeptReading[]>();
  const [size, setSize] = useState(0);
  const [permanent, setPermanent] = useState(true);
  const [undo, setUndo] = useState<() => Promise<void>>();
  const [said, setSaid] = useState('');
  const refresh = async () => {
    setList(await listReadings());
    setSize(await keptBytes());
    setPermanent(keepingTrouble() === undefined);
  };
  useEffect(() => {
    void refresh();
  }, []);
  const remove = async (kept: KeptReading) => {
    const back = await removeReading(kept);
    setUndo(() => back);
    setSaid(w.removed(kept.partName));
    await refresh();
  };
  const putBack = async () => {
    await undo?.();
    setUndo(undefined);
    setSaid('');
    await refresh();
  };
  const again = async (kept: KeptReading) => {
    setSaid(w.analysing);
    try {
      go(href('reading', [(await analyseAgain(kept)).id]));
    } catch (error) {
      setSaid(error instanceof Error ? error.message : String(error));
    }
  };
  return (
    <Sheet
      whole
      card={
        <section aria-labelledby="kept">
          <div class="list-head">
            <h2 id="kept">{w.title}</h2>
          </div>
          <div role="status">
            {said && (
              <p class="list-said said">
                <StateMark name="empty" /> <span>{said}</span>
                {undo && (
                  <button type="button" class="text-button" onClick={() => void putBack()}>
                    {w.undo}
                  </button>
                )}
              </p>
            )}
          </div>
          {list?.length === 0 && (
            <p class="list-empty">
              <StateMark name="empty" /> {w.empty}
            </p>
          )}
          <ul class="kept">
            {list?.map((kept) => (
              <Row key={kept.id} kept={kept} onRemove={() => void remove(kept)} onAgain={() => void again(kept)} />
            ))}
          </ul>
        </section>
      }
      stub={<BenchStub note={permanent ? (list && list.length > 0 ? `${w.sum(list.length, bytes(size))} ${w.save}` : '') : w.unavailable} />}
    />
  );
}

function Row({ kept, onRemove, onAgain }: { kept: KeptReading; onRemove: () => void; onAgain: () => void }) {
  const { reading } = kept;
  const shown = ['f_s_hz', 'q_ts', 'q_ms'].filter((name) => reading.values[name]).slice(0, 2);
  return (
    <li>
      <div>
        <a class="part" href={href('reading', [kept.id])}>
          {kept.partName}
        </a>
        <p class="note">
          {titleOf(kept)}, {when(kept.createdAt)}
          {kept.practice ? `, ${w.practice}: ${faultWordsOf(kept.practice.fault)}` : ''}
        </p>
        <p class="line">
          <span class="inline-mark">
            <StateMark name={reading.outcome} size={22} /> {words.outcome[reading.outcome]}
          </span>
          {shown.map((name) => {
            const figure = reading.values[name];
            return (
              figure && (
                <span key={name}>
                  <Symbol of={figureWords(name).symbol ?? name} /> {figureText(name, figure)}
                </span>
              )
            );
          })}
        </p>
      </div>
      <div class="acts">
        <button type="button" class="text-button" aria-label={w.againNamed(kept.partName)} onClick={onAgain}>
          {w.again}
        </button>
        <button type="button" class="text-button" aria-label={w.removeNamed(kept.partName)} onClick={onRemove}>
          {w.remove}
        </button>
      </div>
    </li>
  );
}

function BenchStub({ note }: { note: string }) {
  const [bench, setBench] = useState<MyBench>();
  useEffect(() => {
    void loadBench().then(setBench);
  }, []);
  const b = startWords.myBench;
  const rows: [string, string][] = [];
  if (bench?.seriesResistorOhm) rows.push([b.resistor, `${forEntry(bench.seriesResistorOhm)}${NBSP}Ω${bench.tolerancePercent ? `, ${b.tolerance} ${fixed(bench.tolerancePercent, bench.tolerancePercent < 1 ? 1 : 0)}${NBSP}%` : ''}`]);
  if (bench?.output) rows.push([b.output, benchWords.outputs[bench.output]]);
  if (bench?.inputDevice) rows.push([b.input, bench.inputDevice.label]);
  if (bench?.inputResistanceOhm) rows.push([b.inputResistance, `${forEntry(bench.inputResistanceOhm)}${NBSP}Ω`]);
  if (bench?.meter) rows.push([benchWords.meter, bench.meter]);
  return (
    <>
      <h2>{b.title}</h2>
      {rows.length > 0 ? (
        <dl class="bench-sum">
          {rows.map(([label, value]) => (
            <div key={label}>
              <dt>{label}</dt>
              <dd>{value}</dd>
            </div>
          ))}
        </dl>
      ) : (
        <p class="note">{b.empty}</p>
      )}
      <Button kind="plain" href={href('bench')}>
        {b.edit}
      </Button>
      {note && <p class="note foot">{note}</p>}
    </>
  );
}
