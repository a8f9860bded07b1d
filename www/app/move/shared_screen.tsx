// A reading that came as a link: shown as it was sent, kept only when the person says so.
import { useEffect, useState } from 'preact/hooks';
import { titleOf } from '../bench/kept_screen';
import { ReadingBody } from '../bench/reading_view';
import { RefusalBody } from '../bench/refusal_view';
import { keepReading, type KeptReading } from '../job/keeping';
import { NotThere } from '../job/not_there';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Fault } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { go, href } from '../ui/route';
import { moveWords } from '../words/move';
import { LinkProblem, unpackReading, type Shared } from './shared_link';

const w = moveWords.shared;

export function SharedScreen({ text }: { text: string }) {
  const [found, setFound] = useState<Shared | 'bad' | 'newer'>();
  useEffect(() => {
    setFound(undefined);
    void unpackReading(text).then(setFound, (error: unknown) => setFound(error instanceof LinkProblem ? error.code : 'bad'));
  }, [text]);
  if (found === undefined) return null;
  if (found === 'bad') return <NotThere title={w.bad} help={w.badHelp} />;
  if (found === 'newer') return <NotThere title={w.newer} help={w.newerHelp} />;
  return <Shown shared={found} />;
}

function Shown({ shared }: { shared: Shared }) {
  const kept: KeptReading = { ...shared, id: 'shared', note: '', takes: [] };
  const heading = useTitle<HTMLHeadingElement>(`${kept.partName}, ${titleOf(kept)}`);
  const [fault, setFault] = useState('');
  const keep = async () => {
    try {
      const { id } = await keepReading({ ...shared, note: w.note, takes: [] });
      go(href('reading', [id]));
    } catch (error) {
      setFault(error instanceof Error ? error.message : String(error));
    }
  };
  const { refusal } = kept.reading;
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={href('')} backLabel={moveWords.back} boxes={{ job: w.check, part: kept.partName, check: titleOf(kept) }} />
            {refusal ? <RefusalBody notice={refusal} kept={kept} takes={0} heading={heading} /> : <ReadingBody kept={kept} note={w.about} heading={heading} />}
          </>
        }
        stub={
          <>
            <p>
              <b>{w.mark}</b>
            </p>
            <p class="note">{w.about}</p>
            <Button kind="main" onPress={() => void keep()}>
              {w.keep}
            </Button>
            {fault && <Fault text={fault} />}
          </>
        }
      />
    </Page>
  );
}
