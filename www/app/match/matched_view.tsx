// What the core found: the best pairing with every difference, and what the other pairings cost.
import { useEffect, useRef } from 'preact/hooks';
import type { Matched, Pair, PairLimit, PairVerdict } from '../core/types.gen';
import { fixed, NBSP, plusMinus } from '../ui/format';
import { StateMark, type MarkName } from '../ui/marks';
import { matchWords as w } from '../words/match';
import { FigureName, figureText } from './limits';

const MARKS: Record<PairVerdict, MarkName> = { good: 'done', acceptable: 'done', not_proven: 'doubtful', too_far_apart: 'failed' };

export function MatchedView({ matched, names, limits }: { matched: Matched; names: string[]; limits: PairLimit[] }) {
  // The answer stands below what was ticked: it is led to, by eye and by ear.
  const head = useRef<HTMLHeadingElement>(null);
  useEffect(() => head.current?.focus(), [matched]);
  const name = (at: number) => names[at] ?? '';
  const together = (pairs: [number, number][]) => pairs.map(([i, j]) => w.pair(name(i), name(j))).join('; ');
  return (
    <div>
      <h2 ref={head} tabIndex={-1}>
        {w.best}
      </h2>
      {matched.pairs.map((pair) => (
        <PairView key={pair.first} pair={pair} first={name(pair.first)} second={name(pair.second)} limits={limits} />
      ))}
      {matched.left_over !== null && <p>{w.leftOver(name(matched.left_over))}</p>}
      {names.length > 2 && (
        <section>
          <h2>{w.others}</h2>
          <p class="note">{w.othersHelp}</p>
          <div class="table-scroll whole" tabIndex={0} role="region" aria-label={w.others}>
            <table class="table">
              <thead>
                <tr>
                  <th scope="col">{w.instead}</th>
                  <th scope="col" class="n">{w.costsMore}</th>
                  <th scope="col">{w.says}</th>
                </tr>
              </thead>
              <tbody>
                {matched.others.map((other) => (
                  <tr key={together(other.pairs)}>
                    <th scope="row">{together(other.pairs)}</th>
                    <td class="n">{plusMinus(other.more, other.half_width_95)}</td>
                    <td>{w.apart[`${other.told_apart}`]}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        </section>
      )}
    </div>
  );
}

function PairView({ pair, first, second, limits }: { pair: Pair; first: string; second: string; limits: PairLimit[] }) {
  return (
    <section class="pair">
      <h3>{w.pair(first, second)}</h3>
      <div class="outcome">
        <div class="word">
          <StateMark name={MARKS[pair.verdict]} size={28} />
          <span>{w.verdicts[pair.verdict]}</span>
        </div>
        <p>{reasonOf(pair)}</p>
      </div>
      <div class="table-scroll whole" tabIndex={0} role="region" aria-label={w.pair(first, second)}>
        <table class="table">
          <thead>
            <tr>
              <th scope="col">{w.figure}</th>
              <th scope="col" class="n">{w.difference}</th>
              <th scope="col" class="n only-wide-cell">{w.limit}</th>
              <th scope="col">{w.says}</th>
            </tr>
          </thead>
          <tbody>
            {pair.compared.map((c) => (
              <tr key={c.name}>
                <th scope="row">
                  <FigureName name={c.name} />
                </th>
                <td class="n">{plusMinus(c.percent, c.half_width_95_percent, `${NBSP}%`)}</td>
                <td class="n only-wide-cell">{limitText(limits.find((l) => l.name === c.name))}</td>
                <td>{w.said[c.verdict]}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {pair.causes.length > 0 && (
        <>
          <h4>{w.causes}</h4>
          <p class="note">{w.causesHelp}</p>
          <dl class="numbers-list pairs">
            {pair.causes.map((c) => (
              <div key={c.name}>
                <dt>{w.cause[c.name] ?? c.name}</dt>
                <dd>{plusMinus(c.percent, c.half_width_95_percent, `${NBSP}%`)}</dd>
              </div>
            ))}
          </dl>
        </>
      )}
    </section>
  );
}

function limitText(limit: PairLimit | undefined): string {
  return limit ? `${percent(limit.good)}, ${percent(limit.acceptable)}` : '';
}

const percent = (share: number) => `${fixed(share * 100, share < 0.01 ? 1 : 0)}${NBSP}%`;

/** The figures that decided, by name. */
function reasonOf(pair: Pair): string {
  if (pair.verdict === 'good') return w.reasons.good;
  const deciding = pair.compared.filter((c) => c.verdict === pair.verdict).map((c) => figureText(c.name));
  return w.reasons[pair.verdict](deciding.join(', '));
}
