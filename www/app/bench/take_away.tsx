// Files that a person takes along: a reading as CSV and JSON, its takes as WAV, and print.
import { useState } from 'preact/hooks';
import type { TakeUse } from '../core/types.gen';
import { takeById, type KeptReading } from '../job/keeping';
import { download, fileName, readingCsv, readingJson } from '../store/export';
import { spiceOf, touchstoneOf } from '../store/circuit_files';
import { Button } from '../ui/controls';
import { lazy } from '../ui/lazy';
import { readingWords } from '../words/reading';
import { writeSpice, writeTouchstone, writeWav } from './core_calls';

const w = readingWords;
const Share = lazy(async () => (await import('../move/share')).Share);

export function TakeAway({ kept }: { kept: KeptReading }) {
  const parts = [kept.partName, kept.check];
  const [sharing, setSharing] = useState(false);
  const csv = () => download(fileName(parts, kept.createdAt, 'csv'), readingCsv(kept.reading, kept), 'text/csv');
  const json = () => download(fileName(parts, kept.createdAt, 'json'), readingJson(kept.reading), 'application/json');
  return (
    <section class="buttons">
      <h2>{w.takeWithYou}</h2>
      <div class="buttons two">
        <Button kind="quiet" onPress={csv}>
          {w.csv}
        </Button>
        <Button kind="quiet" onPress={json}>
          {w.json}
        </Button>
        <SaveForOthers kept={kept} />
        <SaveWavs takes={kept.takes} name={kept} />
        <Button kind="quiet" onPress={() => window.print()}>
          {w.print}
        </Button>
        <Button kind="quiet" onPress={() => setSharing(true)}>
          {w.shareLink}
        </Button>
      </div>
      {sharing && <Share kept={kept} />}
    </section>
  );
}

/** What programs for circuits read: the curve where its phase is known, the circuit where one was fitted. */
function SaveForOthers({ kept }: { kept: KeptReading }) {
  const [said, setSaid] = useState('');
  const save = async (write: Promise<string>, extension: string) => {
    try {
      download(fileName([kept.partName, kept.check], kept.createdAt, extension), await write, 'text/plain');
      setSaid('');
    } catch (error) {
      setSaid(error instanceof Error ? error.message : String(error));
    }
  };
  const curve = touchstoneOf(kept);
  const circuit = spiceOf(kept);
  return (
    <>
      {curve && (
        <Button kind="quiet" onPress={() => void save(writeTouchstone(curve), 's1p')}>
          {w.touchstone}
        </Button>
      )}
      {circuit && (
        <Button kind="quiet" onPress={() => void save(writeSpice(circuit), 'cir')}>
          {w.spice}
        </Button>
      )}
      {said && (
        <p class="note" role="status">
          {said}
        </p>
      )}
    </>
  );
}

export function SaveWavs({ takes, name }: { takes: TakeUse[]; name?: KeptReading }) {
  const [said, setSaid] = useState('');
  const save = async (use: TakeUse, i: number) => {
    try {
      const take = await takeById(use.id);
      if (!take) return setSaid(w.takeGone);
      const parts = [name?.partName ?? '', name?.check ?? '', use.role, takes.length > 1 ? String(i + 1) : ''];
      download(fileName(parts, name?.createdAt ?? Date.now(), 'wav'), (await writeWav(take)) as BlobPart, 'audio/wav');
      setSaid('');
    } catch (error) {
      setSaid(error instanceof Error ? error.message : String(error));
    }
  };
  return (
    <>
      {takes.map((use, i) => (
        <Button key={use.id} kind="quiet" onPress={() => void save(use, i)}>
          {takes.length > 1 ? w.wavOf(i + 1) : w.wav}
        </Button>
      ))}
      {said && (
        <p class="note" role="status">
          {said}
        </p>
      )}
    </>
  );
}
