// The look: one tap a point, and where it is wanted a note and photos.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../../core/client';
import type { Finding, Look, Part } from '../../core/types.gen';
import { Choice, Fault, TextEntry } from '../../ui/controls';
import { lookWords as w, POINTS, pointWords } from '../../words/look';
import { Picture } from './picture';
import { takeIn } from './photo';

/** Changes the part; `said` is what the way back is offered with. */
export type ChangePart = (change: (part: Part) => Part, said?: string) => void;

const FINDINGS = (['sound', 'fault', 'unclear', 'absent'] as const).map((id) => ({ id, label: w.findings[id] }));

export function LookSection({ part, onChange, open }: { part: Part; onChange: ChangePart; open: boolean }) {
  const [points, setPoints] = useState<string[]>([]);
  useEffect(() => void core.lookPoints(part.kind).then((found) => setPoints(found)), [part.kind]);
  const done = points.filter((p) => part.looks.some((l) => l.point === p)).length;
  return (
    <details class="budgets look" open={open}>
      <summary>{w.title}</summary>
      <p class="note">{w.help}</p>
      {part.kind === 'driver' && <p class="note">{w.caution}</p>}
      <ul class="points">
        {points.map((point) => (
          <li key={point}>
            <Point point={point} look={part.looks.find((l) => l.point === point)} onChange={onChange} />
          </li>
        ))}
      </ul>
      {points.length > 0 && (
        <p class="note" role="status">
          {w.count(done, points.length)}
        </p>
      )}
    </details>
  );
}

/** The part with one point changed; a point that nobody tapped yet begins as unclear. */
function withLook(part: Part, point: string, changes: Partial<Look>): Part {
  const earlier = part.looks.find((l) => l.point === point) ?? { point, finding: 'unclear' as Finding, note: '', photos: [], at_ms: 0 };
  return { ...part, looks: [...part.looks.filter((l) => l.point !== point), { ...earlier, ...changes, at_ms: Date.now() }] };
}

function Point({ point, look, onChange }: { point: string; look: Look | undefined; onChange: ChangePart }) {
  const [opened, setOpened] = useState(false);
  const label = pointWords(point);
  const finding = look?.finding ?? '';
  // What is not sound wants a word and a photo; the rest has them on demand.
  const open = opened || finding === 'fault' || finding === 'unclear' || !!look?.note || (look?.photos.length ?? 0) > 0;
  return (
    <>
      <Choice legend={label} options={FINDINGS} value={finding} onChange={(id) => onChange((p) => withLook(p, point, { finding: id as Finding }))} {...(POINTS[point] ? { help: POINTS[point].help } : {})} />
      {open ? (
        <div class="more">
          <TextEntry label={w.note(label)} text={look?.note ?? ''} onText={(note) => onChange((p) => withLook(p, point, { note }))} />
          <Photos point={point} label={label} photos={look?.photos ?? []} onChange={onChange} />
        </div>
      ) : (
        <button type="button" class="text-button" aria-label={w.more(label)} onClick={() => setOpened(true)}>
          {w.moreShort}
        </button>
      )}
    </>
  );
}

function Photos({ point, label, photos, onChange }: { point: string; label: string; photos: string[]; onChange: ChangePart }) {
  const [said, setSaid] = useState<'working' | 'failed'>();
  const add = async (files: FileList | null) => {
    setSaid('working');
    try {
      for (const file of files ?? []) {
        const id = await takeIn(file);
        onChange((p) => withLook(p, point, { photos: [...(p.looks.find((l) => l.point === point)?.photos ?? []), id] }));
      }
      setSaid(undefined);
    } catch {
      setSaid('failed');
    }
  };
  const remove = (id: string) => onChange((p) => withLook(p, point, { photos: photos.filter((other) => other !== id) }), w.photoRemoved);
  return (
    <div class="photos">
      {photos.map((id, i) => (
        <figure key={id}>
          <Picture id={id} alt={w.photoOf(label, i + 1)} />
          <button type="button" class="text-button" aria-label={w.removePhoto(label, i + 1)} onClick={() => remove(id)}>
            {w.removeShort}
          </button>
        </figure>
      ))}
      <label class="button quiet add-photo">
        <input
          type="file"
          accept="image/*"
          capture="environment"
          aria-label={w.photo(label)}
          onChange={(event) => {
            const input = event.currentTarget;
            void add(input.files).finally(() => (input.value = ''));
          }}
        />
        {w.photoShort}
      </label>
      <div role="status">{said === 'working' && <p class="note">{w.photoWorking}</p>}</div>
      {said === 'failed' && <Fault text={w.photoFailed} />}
    </div>
  );
}
