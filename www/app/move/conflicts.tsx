// What another copy of the job said, to be looked through and cleared.
import type { OpenJob } from '../job/use_job';
import { partName } from '../job/part_words';
import { when } from '../job/when';
import { moveWords } from '../words/move';

const w = moveWords.conflicts;

export function Conflicts({ open: { job, change } }: { open: OpenJob }) {
  if (job.conflicts.length === 0) return null;
  const nameOf = (id: string) => {
    const part = job.parts.find((p) => p.id === id);
    return part ? partName(part) : '';
  };
  return (
    <section aria-labelledby="conflicts" class="in-job">
      <h2 id="conflicts">{w.title}</h2>
      <p class="note">{w.help}</p>
      <dl class="numbers-list plain">
        {job.conflicts.map((c) => (
          <div key={`${c.part} ${c.field} ${c.other}`}>
            <dt>{w.field(nameOf(c.part), c.field.replaceAll('_', ' ').replace(/\.[0-9a-f-]{36}/, ''))}</dt>
            <dd>{w.other(c.other, when(c.at_ms))}</dd>
          </div>
        ))}
      </dl>
      <button type="button" class="text-button" onClick={() => change((now) => ({ ...now, conflicts: [] }), w.cleared)}>
        {w.clear}
      </button>
    </section>
  );
}
