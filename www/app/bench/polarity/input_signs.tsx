// The signs that were learnt, each with the input that it belongs to, and the way to learn one again.
import type { MyBench } from '../../job/keeping';
import { polarityWords } from '../../words/polarity';
import { forgetSign } from './input_sign';

const w = polarityWords.signs;

export function InputSigns({ bench, change }: { bench: MyBench; change: (more: Partial<MyBench>) => void }) {
  const learnt = Object.entries(bench.inputInverts ?? {});
  return (
    <section class="input-signs">
      <h2>{w.title}</h2>
      <p class="note" role="status">
        {learnt.length === 0 ? w.none : w.help}
      </p>
      {learnt.length > 0 && (
        <ul class="plain-list">
          {learnt.map(([input, inverts]) => (
            <li key={input}>
              <strong>{input}</strong>: {inverts ? w.inverts : w.upright}{' '}
              <button type="button" class="text-button" aria-label={w.againFor(input)} onClick={() => change(forgetSign(bench, input))}>
                {w.again}
              </button>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}
