// Facts of a reading for the stub of the wide page: what each ± comes from most, and how it was computed. All of it stands
// on the card as well, where the page is narrow or printed: what is needed later never lies on the stub alone.
import type { Figure } from '../core/types.gen';
import type { KeptReading } from '../job/keeping';
import { when } from '../job/when';
import { fixed, NBSP } from '../ui/format';
import { Symbol } from '../ui/symbol';
import { figureWords, inputWords, sourceWords, spell } from '../words/figures';
import { readingWords } from '../words/reading';

const w = readingWords;

export function Strip({ kept, names }: { kept: KeptReading; names: string[] }) {
  const rows = names.flatMap((name) => {
    const figure = kept.reading.values[name];
    const most = figure && mostOf(figure);
    return most ? [{ name, ...most }] : [];
  });
  return (
    <div class="strip only-wide-block">
      {rows.length > 0 && (
        <section>
          <h2>{w.most}</h2>
          <dl class="bench-sum">
            {rows.map(({ name, source, share }) => (
              <div key={name}>
                <dt>
                  <Symbol of={figureWords(name).symbol ?? name} />
                </dt>
                <dd>
                  {sourceWords(source)}, {fixed(share * 100, 0)}
                  {NBSP}%
                </dd>
              </div>
            ))}
          </dl>
        </section>
      )}
      <section>
        <h2>{w.chosen}</h2>
        <dl class="bench-sum">
          {computedRows(kept).map(([label, value]) => (
            <div key={label}>
              <dt>{label}</dt>
              <dd>{value}</dd>
            </div>
          ))}
        </dl>
      </section>
    </div>
  );
}

/** The same on the card. */
export function Computed({ kept }: { kept: KeptReading }) {
  return (
    <section class="not-on-wide">
      <h2>{w.chosen}</h2>
      <dl class="numbers-list pairs plain">
        {computedRows(kept).map(([label, value]) => (
          <div key={label}>
            <dt>{label}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
}

const chosenWords = (name: string, value: string) => (name.endsWith('input_model') ? inputWords(value) : (w.yesNo[value] ?? spell(value)));

function computedRows({ reading, createdAt }: KeptReading): [string, string][] {
  const { computed_with, chosen } = reading;
  const choices = Object.entries(chosen).filter(([name]) => !name.startsWith('next'));
  return [[w.method, computed_with.method], ...choices.map(([name, value]): [string, string] => [w.chosenNames[name] ?? cap(spell(name)), chosenWords(name, String(value))]), [w.version, computed_with.version], [w.made, when(createdAt)]];
}

/** The largest contribution to the uncertainty of a figure, and its share of the variance. */
function mostOf({ budget }: Figure): { source: string; share: number } | undefined {
  const total = budget.reduce((sum, c) => sum + c.effect * c.effect, 0);
  const [first] = [...budget].sort((a, b) => Math.abs(b.effect) - Math.abs(a.effect));
  return first && total > 0 ? { source: first.source, share: (first.effect * first.effect) / total } : undefined;
}

const cap = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
