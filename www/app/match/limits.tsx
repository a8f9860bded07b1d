// The limits within a pair, to be changed by the person.
import type { PairLimit } from '../core/types.gen';
import { NumberEntry, readNumber, startNumber, type NumberSpec, type NumberState } from '../ui/number_entry';
import { Symbol } from '../ui/symbol';
import { figureWords } from '../words/figures';
import { matchWords as w } from '../words/match';

export interface LimitState {
  name: string;
  good: NumberState;
  acceptable: NumberState;
}

const spec = (name: string, label: string): NumberSpec => ({ label: `${figureText(name)}, ${label}`, unit: '%', scale: 0.01, low: 0.001, high: 1 });

export const startLimits = (limits: PairLimit[]): LimitState[] =>
  limits.map(({ name, good, acceptable }) => ({ name, good: startNumber(spec(name, w.good), good), acceptable: startNumber(spec(name, w.acceptable), acceptable) }));

/** The limits as numbers; none where one of them is no number or the wrong way round. */
export function limitsOf(states: LimitState[]): PairLimit[] | undefined {
  const limits = states.map(({ name, good, acceptable }) => ({ name, good: good.value ?? NaN, acceptable: acceptable.value ?? NaN }));
  return limits.every((l) => l.good <= l.acceptable) ? limits : undefined;
}

export function figureText(name: string): string {
  return w.curves[name] ?? figureWords(name).label;
}

export function FigureName({ name }: { name: string }) {
  const { symbol } = figureWords(name);
  return (
    <>
      {symbol && <Symbol of={symbol} />} <span>{figureText(name)}</span>
    </>
  );
}

export function Limits({ states, onStates, onDefaults }: { states: LimitState[]; onStates: (states: LimitState[]) => void; onDefaults: () => void }) {
  const change = (name: string, part: 'good' | 'acceptable', state: NumberState) => onStates(states.map((s) => (s.name === name ? { ...s, [part]: state } : s)));
  return (
    <details class="budgets">
      <summary>{w.limits}</summary>
      <p class="note">
        {w.limitsHelp}{' '}
        <button type="button" class="text-button" onClick={onDefaults}>
          {w.defaults}
        </button>
      </p>
      <div class="fields">
        {states.map((s) =>
          (['good', 'acceptable'] as const).map((part) => <NumberEntry key={`${s.name}-${part}`} spec={spec(s.name, w[part])} state={s[part]} onState={(next) => change(s.name, part, readNumber(spec(s.name, w[part]), next.text))} />),
        )}
      </div>
      {!limitsOf(states) && (
        <p class="fault" role="status">
          {w.limitsWrong}
        </p>
      )}
    </details>
  );
}
