// Photos of the record: of the parts, and of what was looked at.
import type { Job } from '../../core/types.gen';
import { lookWords, pointWords } from '../../words/look';
import { papersWords } from '../../words/papers';
import { Picture } from '../look/picture';
import { partName } from '../part_words';

export function RecordPhotos({ job }: { job: Job }) {
  const photos = job.parts.flatMap((part) => [
    ...part.photos.map((id) => ({ id, text: partName(part) })),
    ...part.looks.flatMap((look) => look.photos.map((id) => ({ id, text: `${partName(part)}, ${pointWords(look.point)}: ${lookWords.said[look.finding]}` }))),
  ]);
  if (photos.length === 0) return null;
  return (
    <section class="record-photos">
      <h3>{papersWords.record.photos}</h3>
      <ul>
        {photos.map(({ id, text }) => (
          <li key={id}>
            <Picture id={id} alt={text} />
            <span>{text}</span>
          </li>
        ))}
      </ul>
    </section>
  );
}
