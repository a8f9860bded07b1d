// The mark of a cell's state, and its word.
import type { CellState } from '../core/types.gen';
import { StateMark, type MarkName } from '../ui/marks';
import { jobWords } from '../words/job';

const MARKS: Record<CellState, MarkName> = { to_do: 'empty', found: 'reading', pass: 'done', not_proven: 'doubtful', fail: 'failed', refused: 'refused' };

export const CellMark = ({ state, size = 22 }: { state: CellState | 'next'; size?: number }) => <StateMark name={state === 'next' ? 'next' : MARKS[state]} size={size} />;

export function StateWord({ state }: { state: CellState }) {
  return (
    <span class="inline-mark">
      <CellMark state={state} /> {jobWords.states[state]}
    </span>
  );
}

export function Key() {
  const g = jobWords.grid;
  return (
    <ul class="grid-key" aria-label={g.key}>
      {(['pass', 'fail', 'not_proven', 'found', 'refused'] as const).map((state) => (
        <li key={state}>
          <StateWord state={state} />
        </li>
      ))}
      <li>
        <span class="inline-mark">
          <CellMark state="next" /> {g.next}
        </span>
      </li>
      <li>
        <StateWord state="to_do" />
      </li>
      <li>{g.figure}</li>
    </ul>
  );
}
