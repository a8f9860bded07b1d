// A reading: figures, outcome with its reason, cautions, evidence, budget; on the stub what next and what to take along.
import type { Choice, Figure, Notice, Reading } from '../core/types.gen';
import type { KeptReading } from '../job/keeping';
import { keepingTrouble } from '../job/keeping';
import { Button } from '../ui/controls';
import { FigureCell, FigureView, figureText } from '../ui/figure';
import { fixed, NBSP, significant } from '../ui/format';
import { Notices, OutcomeView } from '../ui/notices';
import { backOf } from '../job/place';
import { Rich, Symbol } from '../ui/symbol';
import { Budgets } from '../ui/tables';
import { usePrinting } from '../ui/printing';
import { figureWords } from '../words/figures';
import { words } from '../words/common';
import { readingWords } from '../words/reading';
import { STORE_PROBLEM_WORDS } from '../words/store-problems';
import { Choices } from './choices';
import { evidenceOf, findingOf, LEADS, ROWS, toldByEvidence } from './evidence';
import { column } from './curves';
import { Computed, Strip } from './strip';
import { TakeAway } from './take_away';
import { Truth } from './truth';

const w = readingWords;

export function ReadingBody({ kept, note, notices = [], heading }: { kept: KeptReading; note?: string; notices?: Notice[]; heading: preact.RefObject<HTMLHeadingElement> }) {
  const { reading } = kept;
  const present = (names: string[]) => names.filter((n) => reading.values[n]);
  const leads = present(LEADS[reading.check] ?? []);
  const rows = present(ROWS[reading.check] ?? []).filter((n) => !leads.includes(n));
  const rest = Object.keys(reading.values).filter((n) => !leads.includes(n) && !rows.includes(n) && !n.startsWith('suggested_') && !toldByEvidence(reading.check, n));
  const printing = usePrinting();
  const knockAlone = reading.check === 'knock' && !reading.values['q_es'];
  return (
    <div class="card-body">
      <h1 class="unheard" ref={heading} tabIndex={-1}>
        {w.headline(kept.partName)}
      </h1>
      <div class="leads">
        {leads.map((name) => figureOf(reading, name, true))}
        <OutcomeView outcome={reading.outcome} reason={reasonOf(reading)} />
      </div>
      {rows.length > 0 && <div class="figure-row">{rows.map((name) => figureOf(reading, name))}</div>}
      <Notices notices={[...reading.warnings, ...notices]} />
      {evidenceOf(reading)}
      {(note || knockAlone) && (
        <p>
          <Rich text={note || w.knockOnly} />
        </p>
      )}
      <Beside reading={reading} prefix="two_channel_" words={w.twoChannels} />
      <Beside reading={reading} prefix="three_frequency_" words={w.threeFrequencies} />
      <Rest reading={reading} names={rest} />
      <Budgets values={reading.values as Record<string, Figure>} open={printing} />
      {kept.practice && <Truth practice={kept.practice} reading={reading} />}
      <Computed kept={kept} />
    </div>
  );
}

/** Names of the figures that stand large or in the row below. */
function mainFigures({ check, values }: Reading): string[] {
  return [...new Set([...(LEADS[check] ?? []), ...(ROWS[check] ?? [])])].filter((name) => values[name]);
}

function figureOf(reading: Reading, name: string, lead = false) {
  const figure = reading.values[name];
  return figure && <FigureView key={name} name={name} figure={figure} lead={lead} />;
}

/** Why the outcome is what it is, in one or two sentences. */
function reasonOf(reading: Reading): string {
  if (reading.outcome === 'doubtful') return w.reason.doubtful;
  const finding = findingOf(reading);
  if (finding) return finding;
  const percent = column(reading, 'residual', 'percent');
  if (!percent || percent.length === 0) return w.reason.reading;
  const sizes = Array.from(percent, Math.abs).sort((a, b) => a - b);
  return w.reason.readingFit(`${significant(sizes[Math.floor(sizes.length / 2)] ?? 0, 1)}${NBSP}%`);
}

/** Figures by another way beside those of the reading: the handbooks', or what two inputs would have given. */
function Beside({ reading, prefix, words }: { reading: Reading; prefix: string; words: (typeof w)['twoChannels'] }) {
  const { title, help, own, other: others, apart } = words;
  const names = Object.keys(reading.alongside).filter((name) => name.startsWith(prefix));
  if (names.length === 0) return null;
  return (
    <section>
      <h2>{title}</h2>
      <p class="note">{help}</p>
      <div class="table-scroll whole" tabIndex={0} role="region" aria-label={title}>
      <table class="table">
        <thead>
          <tr>
            <th scope="col">{w.figure}</th>
            <th scope="col" class="n">{own}</th>
            <th scope="col" class="n">{others}</th>
            {apart && <th scope="col" class="n">{apart}</th>}
          </tr>
        </thead>
        <tbody>
          {names.map((name) => {
            const other = reading.alongside[name];
            const bare = name.slice(prefix.length);
            const fitted = reading.values[bare];
            if (!other) return null;
            return (
              <tr key={name}>
                <th scope="row">
                  <Named name={bare} short />
                </th>
                <td class="n">{fitted ? <FigureCell name={bare} figure={fitted} /> : '\u2013'}</td>
                <td class="n">
                  <FigureCell name={bare} figure={other} />
                </td>
                {apart && <td class="n">{fitted ? fixed((other.value / fitted.value - 1) * 100, 1) + NBSP + '%' : '\u2013'}</td>}
              </tr>
            );
          })}
        </tbody>
      </table>
      </div>
    </section>
  );
}

function Named({ name, short }: { name: string; short?: boolean }) {
  const { symbol, label } = figureWords(name);
  return (
    <>
      {symbol && <Symbol of={symbol} />} <span class={short && symbol ? 'only-wide-inline' : ''}>{label}</span>
    </>
  );
}

function Rest({ reading, names }: { reading: Reading; names: string[] }) {
  if (names.length === 0) return null;
  return (
    <section>
      <h2>{w.more}</h2>
      <dl class="numbers-list pairs">
        {names.map((name) => {
          const figure = reading.values[name];
          return (
            figure && (
              <div key={name}>
                <dt>
                  <Named name={name} />
                </dt>
                <dd>
                  {figureText(name, figure)}
                  {figure.half_width_95 == null && figure.reason && <span class="note">{` ${words.noUncertainty} ${figure.reason}`}</span>}
                </dd>
              </div>
            )
          );
        })}
      </dl>
    </section>
  );
}

export function ReadingStub({ kept, next, onChoose, again }: { kept: KeptReading; next: Choice[]; onChoose?: (id: string) => void; again?: { label: string; onPress: () => void; notYet?: string } }) {
  const trouble = keepingTrouble();
  return (
    <>
      <h2>{w.whatNext}</h2>
      <Choices choices={next} onChoose={(id) => onChoose?.(id)} leads />
      <Button kind={next.length === 0 ? 'main' : 'plain'} href={backOf(kept.place)}>
        {w.start}
      </Button>
      {again && (
        <Button kind="plain" onPress={again.onPress} {...(again.notYet ? { notYet: again.notYet } : {})}>
          {again.label}
        </Button>
      )}
      <TakeAway kept={kept} />
      <Strip kept={kept} names={mainFigures(kept.reading)} />
      <p class="note foot">{trouble ? `${STORE_PROBLEM_WORDS[trouble.code].what} ${STORE_PROBLEM_WORDS[trouble.code].remedy}` : w.kept}</p>
    </>
  );
}
