// Above every screen: little room is left, or what was kept is gone. Looked for when the page is opened and at each new
// screen, so before every take.
import { useEffect, useState } from 'preact/hooks';
import { bytes } from '../ui/format';
import { href } from '../ui/route';
import { moveWords } from '../words/move';
import { freeBytes, goneSince, MARGIN_BYTES, noteKept, type Mark } from './storage';

const w = moveWords.storage;

/** Found before anything is tidied away; asked for once a visit. */
let gone: Promise<Mark | undefined> | undefined;
export const lookBack = (): Promise<Mark | undefined> => (gone ??= goneSince().catch(() => undefined));

export function StoreWatch({ at }: { at: string }) {
  const [lost, setLost] = useState<Mark>();
  const [free, setFree] = useState<number>();
  useEffect(() => {
    void freeBytes().then(setFree);
    void lookBack().then((mark) => {
      if (mark) setLost(mark);
      else void noteKept().catch(() => undefined);
    });
  }, [at]);
  const understood = () => {
    gone = Promise.resolve(undefined);
    setLost(undefined);
    void noteKept().catch(() => undefined);
  };
  return (
    <>
      {lost && (
        <p class="bar-notice" role="alert">
          {w.gone(lost.jobs, lost.readings)} <a href={href('files')}>{w.open}</a>{' '}
          <button type="button" class="text-button" onClick={understood}>
            {w.understood}
          </button>
        </p>
      )}
      {free !== undefined && free < MARGIN_BYTES && (
        <p class="bar-notice" role="alert">
          {w.low(bytes(free))} <a href={href('files')}>{w.open}</a>
        </p>
      )}
    </>
  );
}
