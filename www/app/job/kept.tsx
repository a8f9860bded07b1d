// Kept readings: open, analyse again, delete with undo; and what stands on the bench.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { inOneFile } from '../one_file';
import { analyseAgain, titleOf } from '../bench/kept_screen';
import { bytes, fixed, forEntry, NBSP } from '../ui/format';
import { Button } from '../ui/controls';
import { figureText } from '../ui/figure';
import { StateMark } from '../ui/marks';
import { Sheet } from '../ui/card';
import { Symbol } from '../ui/symbol';
import { groupsOf } from '../match/candidates';
import { href, go } from '../ui/route';
import { benchWords } from '../words/bench';
import { words } from '../words/common';
import { figureWords } from '../words/figures';
import { jobsWords } from '../words/jobs';
import { matchWords } from '../words/match';
import { startWords } from '../words/start';
import { faultWordsOf } from '../words/faults';
import { PERSISTENCE_WORDS } from '../words/store-problems';
import { keepingTrouble, keptBytes, latestReadings, listRuns, loadBench, looseTakes, persistence, removeReading, removeRun, removeTakes, renameReading, type KeptReading, type KeptRun, type MyBench } from './keeping';
import { PartName } from './part_name';
import { when } from './when';

const w = startWords.kept;
const SHOWN_FIRST = 30;

export function KeptReadings() {
  const [list, setList] = useState<KeptReading[]>();
  const [of, setOf] = useState(0);
  const all = useRef(false);
  const [runs, setRuns] = useState<KeptRun[]>([]);
  const [size, setSize] = useState(0);
  const [loose, setLoose] = useState({ ids: [] as string[], bytes: 0 });
  const [permanent, setPermanent] = useState(true);
  const [promised, setPromised] = useState('');
  const [undo, setUndo] = useState<() => Promise<void>>();
  const [said, setSaid] = useState('');
  const here = useRef(true);
  useEffect(() => () => void (here.current = false), []);
  const refresh = async () => {
    setRuns(await listRuns());
    // A workshop's store holds thousands; each carries its curves.
    const found = await latestReadings(all.current ? Infinity : SHOWN_FIRST);
    setList(found.list);
    setOf(found.of);
    setSize(await keptBytes());
    setLoose(await looseTakes());
    setPermanent(keepingTrouble() === undefined);
    const answer = await persistence();
    setPromised(answer ? PERSISTENCE_WORDS[answer] : w.save);
  };
  useEffect(() => {
    void refresh();
  }, []);
  const showAll = async () => {
    all.current = true;
    await refresh();
  };
  const removed = async (words: string, work: Promise<() => Promise<void>>) => {
    const back = await work;
    setUndo(() => back);
    setSaid(words);
    await refresh();
  };
  const renamed = async (kept: KeptReading, partName: string) => {
    await renameReading(kept, partName);
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
      // Left in the meantime: the new reading lies in the list all the same.
      const { id } = await analyseAgain(kept);
      if (here.current) go(href('reading', [id]));
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
            {list && (list.length < of || groupsOf(list).length > 0) && (
              <a class="text-button" href={href('match')}>
                {matchWords.open}
              </a>
            )}
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
          {list?.length === 0 && runs.length === 0 && (
            <p class="list-empty">
              <StateMark name="empty" /> {w.empty}
            </p>
          )}
          <ul class="kept">
            {runs.map((run) => (
              <RunRow key={run.id} run={run} onRemove={() => void removed(w.removed(run.partName), removeRun(run))} />
            ))}
            {list?.map((kept) => (
              <Row key={kept.id} kept={kept} onRemove={() => void removed(w.removed(kept.partName), removeReading(kept))} onRename={(name) => renamed(kept, name)} onAgain={() => void again(kept)} />
            ))}
          </ul>
          {list && list.length < of && (
            <p class="list-empty">
              <button type="button" class="text-button" onClick={() => void showAll()}>
                {w.showAll(of)}
              </button>
            </p>
          )}
        </section>
      }
      stub={
        <BenchStub note={permanent ? (list && list.length > 0 ? `${w.sum(of, bytes(size))} ${promised}` : '') : w.unavailable}>
          {loose.ids.length > 0 && (
            <p class="note">
              {w.loose.about(bytes(loose.bytes))}{' '}
              <button type="button" class="text-button" onClick={() => void removed(w.loose.removed, removeTakes(loose.ids))}>
                {w.loose.remove}
              </button>
            </p>
          )}
        </BenchStub>
      }
    />
  );
}

/** A check that was left after a take: it goes on where it stood. */
function RunRow({ run, onRemove }: { run: KeptRun; onRemove: () => void }) {
  return (
    <li>
      <div>
        <a class="part" href={href('resume', [run.id])}>
          {run.partName}
        </a>
        <p class="note">
          {titleOf({ check: run.check, setup: run.bench })}, {when(run.changedAt)}
        </p>
        <p>
          <span class="marked">{w.underWay}</span> {w.takes(run.history.filter((h) => h.kind === 'took').length)}
        </p>
      </div>
      <div class="acts">
        <a class="text-button" href={href('resume', [run.id])} aria-label={w.goOnNamed(run.partName)}>
          {w.goOn}
        </a>
        <button type="button" class="text-button" aria-label={w.removeNamed(run.partName)} onClick={onRemove}>
          {w.remove}
        </button>
      </div>
    </li>
  );
}

function Row({ kept, onRemove, onRename, onAgain }: { kept: KeptReading; onRemove: () => void; onRename: (name: string) => Promise<void>; onAgain: () => void }) {
  const { reading } = kept;
  const [naming, setNaming] = useState(false);
  const rename = useRef<HTMLButtonElement>(null);
  const leave = () => {
    setNaming(false);
    rename.current?.focus();
  };
  const shown = ['f_s_hz', 'q_ts', 'q_ms'].filter((name) => reading.values[name]).slice(0, 2);
  return (
    <li>
      <div>
        {naming ? (
          <PartName name={kept.partName} onLeave={leave} onName={(name) => void onRename(name).then(leave)} />
        ) : (
          <a class="part" href={href('reading', [kept.id])}>
            {kept.partName}
          </a>
        )}
        <p class="note">
          {titleOf(kept)}, {when(kept.createdAt)}
          {kept.practice ? `, ${w.practice(faultWordsOf(kept.practice.fault))}` : ''}
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
        <a class="text-button" href={href('file', [kept.id])} aria-label={jobsWords.fileNamed(kept.partName)}>
          {jobsWords.file}
        </a>
        <button type="button" class="text-button" ref={rename} aria-label={w.rename.named(kept.partName)} aria-expanded={naming} onClick={() => setNaming(!naming)}>
          {w.rename.open}
        </button>
        <button type="button" class="text-button" aria-label={w.removeNamed(kept.partName)} onClick={onRemove}>
          {w.remove}
        </button>
      </div>
    </li>
  );
}

function BenchStub({ note, children }: { note: string; children: ComponentChildren }) {
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
      {children}
      <Copy />
    </>
  );
}

/** From a folder: the page in one file, to be taken along. In that file: what it means to be opened from a disk. */
function Copy() {
  const c = startWords.copy;
  if (inOneFile()) return <p class="note">{c.here}</p>;
  return (
    <p class="note">
      <a href="conewright.html" download={c.name}>
        {c.take}
      </a>
      {c.about}
    </p>
  );
}
