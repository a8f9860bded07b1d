// Evidence in tables: the same curves and budgets that are drawn, readable by any means.
import type { Contribution, Figure } from '../core/types.gen';
import { columnWords, figureWords, sourceWords } from '../words/figures';
import { words } from '../words/common';
import { fixed, NBSP, significant } from './format';
import { figureText } from './figure';
import { Symbol } from './symbol';

type Columns = Record<string, ArrayLike<number>>;

/** Rows evenly picked: a table of ten thousand lines helps nobody, the CSV holds them all. */
export function CurveTable({ title, curve, most = 120 }: { title: string; curve: Columns; most?: number }) {
  const names = Object.keys(curve);
  const length = names[0] ? (curve[names[0]]?.length ?? 0) : 0;
  const step = Math.max(1, Math.ceil(length / most));
  const rows: number[] = [];
  for (let i = 0; i < length; i += step) rows.push(i);
  return (
    <details class="data-table">
      <summary>{words.tableOf(title)}</summary>
      <div class="table-scroll" tabIndex={0} role="region" aria-label={title}>
        <table class="table">
          <caption>
            {title}
            {step > 1 && <span class="note"> {words.everyNth(step)}</span>}
          </caption>
          <thead>
            <tr>
              {names.map((name) => (
                <th scope="col" class="n" key={name}>
                  {columnWords(name)}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((i) => (
              <tr key={i}>
                {names.map((name) => (
                  <td class="n" key={name}>
                    {significant(curve[name]?.[i] ?? NaN, 5)}
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}

/** Where the uncertainty of each figure comes from; one table a figure, on the card, so that it prints. */
export function Budgets({ values, open }: { values: Record<string, Figure>; open: boolean }) {
  const names = Object.keys(values).filter((name) => (values[name]?.budget.length ?? 0) > 0);
  if (names.length === 0) return null;
  return (
    <details class="budgets" open={open}>
      <summary>{words.budget.title}</summary>
      <p class="note">{words.budget.help}</p>
      <div class="budget-grid">
        {names.map((name) => {
          const figure = values[name];
          return figure && <BudgetTable key={name} name={name} figure={figure} />;
        })}
      </div>
    </details>
  );
}

/** Shares below this are told together: a page of noughts hides what matters. */
const LEAST_SHARE = 0.005;

/** The contributions that matter, the largest first, and how much the others make together. */
function weighty(budget: Contribution[], total: number): { shown: Contribution[]; others: { count: number; effect: number } } {
  const sorted = [...budget].sort((a, b) => Math.abs(b.effect) - Math.abs(a.effect));
  const shown = sorted.filter((c) => c.effect * c.effect >= LEAST_SHARE * total);
  const rest = sorted.slice(shown.length);
  return { shown, others: { count: rest.length, effect: Math.sqrt(rest.reduce((sum, c) => sum + c.effect * c.effect, 0)) } };
}

function BudgetTable({ name, figure }: { name: string; figure: Figure }) {
  const { symbol, label, unit, scale } = figureWords(name);
  const total = figure.budget.reduce((sum, c) => sum + c.effect * c.effect, 0);
  const { shown, others } = weighty(figure.budget, total);
  const tail = unit ? NBSP + unit : '';
  return (
    <table class="table">
      <caption>
        {symbol && <Symbol of={symbol} />} {label}, {figureText(name, figure)}
      </caption>
      <thead>
        <tr>
          <th scope="col">{words.budget.contribution}</th>
          <th scope="col" class="n">
            {words.budget.effect}
          </th>
          <th scope="col" class="n">
            {words.budget.share}
          </th>
        </tr>
      </thead>
      <tbody>
        {shown.map((c) => (
          <tr key={c.source}>
            <th scope="row">{sourceWords(c.source)}</th>
            <td class="n">{significant(Math.abs(c.effect) / scale, 2) + tail}</td>
            <td class="n">{total > 0 ? fixed(((c.effect * c.effect) / total) * 100, 0) + NBSP + '%' : '\u2013'}</td>
          </tr>
        ))}
        {others.count > 0 && (
          <tr>
            <th scope="row">{words.budget.others(others.count)}</th>
            <td class="n">{significant(others.effect / scale, 2) + tail}</td>
            <td class="n">{words.budget.under}</td>
          </tr>
        )}
      </tbody>
      <tfoot>
        <tr>
          <th scope="row">{words.budget.together}</th>
          <td class="n">{significant(Math.sqrt(total) / scale, 2) + tail}</td>
          <td class="n">100{NBSP}%</td>
        </tr>
      </tfoot>
    </table>
  );
}
