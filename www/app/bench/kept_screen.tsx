// A kept reading, opened again; it can be analysed again with the core of today.
import { useEffect, useRef, useState } from 'preact/hooks';
import { keepReading, readingById, takeById, type KeptReading } from '../job/keeping';
import type { PageTake } from '../core/types.gen';
import { NotThere } from '../job/not_there';
import { backOf } from '../job/place';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Fault } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { go, href } from '../ui/route';
import { checkWords } from '../words/check';
import { words } from '../words/common';
import { readingWords } from '../words/reading';
import { setupWithTakes } from './analysis';
import { analyse } from './core_calls';
import { ReadingBody, ReadingStub } from './reading_view';
import { RefusalBody, RefusalStub } from './refusal_view';

export function KeptScreen({ id }: { id: string }) {
  const [kept, setKept] = useState<KeptReading | 'missing'>();
  useEffect(() => {
    setKept(undefined);
    void readingById(id).then((found) => setKept(found ?? 'missing'));
  }, [id]);
  if (kept === undefined) return null;
  return kept === 'missing' ? <NotThere title={readingWords.missing} help={readingWords.missingHelp} /> : <Shown key={kept.id} kept={kept} />;
}

function Shown({ kept }: { kept: KeptReading }) {
  const heading = useTitle<HTMLHeadingElement>(`${kept.partName}, ${titleOf(kept)}`);
  const [fault, setFault] = useState('');
  const [busy, setBusy] = useState(false);
  const here = useRef(true);
  useEffect(() => () => void (here.current = false), []);
  const again = async () => {
    if (busy) return;
    setBusy(true);
    setFault('');
    try {
      const { id } = await analyseAgain(kept);
      if (here.current) go(href('reading', [id]));
    } catch (error) {
      setFault(error instanceof Error ? error.message : String(error));
      setBusy(false);
    }
  };
  const slip = <Slip back={backOf(kept.place)} backLabel={checkWords.back} boxes={{ part: kept.partName, check: titleOf(kept), ...(kept.practice ? { bench: words.practiceBench } : {}), take: String(kept.takes.length) }} />;
  const { refusal } = kept.reading;
  const trouble = fault && <Fault text={fault} />;
  if (refusal) {
    return (
      <Page kind="check">
        <Sheet card={<>{slip}<RefusalBody notice={refusal} kept={kept} takes={kept.takes.length} heading={heading} /></>} stub={<>{trouble}<RefusalStub notice={refusal} choices={[]} onChoose={() => undefined} kept={kept} takesCount={kept.takes.length} /><Button kind="quiet" onPress={() => void again()} {...(busy ? { notYet: checkWords.analysing } : {})}>{words.analyseAgain}</Button></>} />
      </Page>
    );
  }
  return (
    <Page kind="check">
      <Sheet card={<>{slip}<ReadingBody kept={kept} heading={heading} /></>} stub={<>{trouble}<ReadingStub kept={kept} next={[]} again={{ label: words.analyseAgain, onPress: () => void again(), ...(busy ? { notYet: checkWords.analysing } : {}) }} /></>} />
    </Page>
  );
}

export function titleOf(kept: { check: string; setup: Record<string, unknown> }): string {
  const sensor = kept.setup['sensor'];
  if (kept.check === 'knock') return sensor === 'microphone' ? words.checks.knock_microphone : words.checks.knock_coil;
  if (kept.check === 'meter') return words.checks.meter;
  if (kept.check === 'polarity') return kept.setup['method'] === 'pulse' ? words.checks.polarity_pulse : words.checks.polarity_push;
  if (kept.check === 'loose_joint') return words.checks.loose_joint;
  if (kept.check === 'impedance_one_channel' || kept.check === 'impedance_by_microphone') return words.checks[kept.check];
  return words.checks.impedance;
}

/** Reads the kept takes anew; the earlier reading stays as it was. */
export async function analyseAgain(kept: KeptReading): Promise<KeptReading> {
  const takes = await Promise.all(kept.takes.map((use) => takeById(use.id)));
  const whole = takes.filter((t): t is PageTake => t !== undefined);
  if (whole.length < kept.takes.length) throw new Error(readingWords.takeGone);
  const reading = await analyse(setupWithTakes(kept.setup, kept.takes), whole);
  const { id: _id, createdAt: _createdAt, ...rest } = kept;
  return keepReading({ ...rest, reading });
}
