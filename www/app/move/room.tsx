// How much room this browser has, and whether it has agreed to keep everything.
import { useEffect, useState } from 'preact/hooks';
import { store, type Persistence } from '../store/store';
import { Button } from '../ui/controls';
import { bytes } from '../ui/format';
import { moveWords } from '../words/move';
import { PERSISTENCE_WORDS } from '../words/store-problems';
import { estimate } from './storage';

const w = moveWords.storage;

export function Room() {
  const [used, setUsed] = useState<string>('');
  const [answer, setAnswer] = useState<Persistence>();
  useEffect(() => {
    void estimate().then(({ usedBytes, quotaBytes }) => setUsed(usedBytes === undefined || quotaBytes === undefined ? w.unknown : w.used(bytes(usedBytes), bytes(quotaBytes))));
    void store.persistence().then(setAnswer, () => undefined);
  }, []);
  const ask = async () => setAnswer(await store.askToPersist(true).catch(() => 'unknown' as const));
  return (
    <section>
      <h2>{w.title}</h2>
      <p>{used}</p>
      <p class="note" role="status">
        {answer && PERSISTENCE_WORDS[answer]}
      </p>
      {answer !== 'granted' && (
        <Button kind="quiet" onPress={() => void ask()}>
          {w.asked}
        </Button>
      )}
    </section>
  );
}
