// On the practice bench the truth is known: it stands beside the reading, which did not know it.
import { useEffect, useState } from 'preact/hooks';
import type { Reading } from '../core/types.gen';
import type { KeptReading } from '../job/keeping';
import { figureText } from '../ui/figure';
import { significant, NBSP } from '../ui/format';
import { Symbol } from '../ui/symbol';
import { figureWords } from '../words/figures';
import { practiceWords } from '../words/check';
import { readingWords } from '../words/reading';
import { practiceTruth } from './core_calls';

export function Truth({ practice, reading }: { practice: NonNullable<KeptReading['practice']>; reading: Reading }) {
  const [truth, setTruth] = useState<Record<string, number>>();
  useEffect(() => {
    practiceTruth(practice, reading.check).then(setTruth, () => setTruth(undefined));
  }, [practice.driver, practice.fault]);
  const names = Object.keys(reading.values).filter((name) => truth?.[name] !== undefined);
  if (!truth || names.length === 0) return null;
  return (
    <details class="truth">
      <summary>{practiceWords.truth}</summary>
      <p class="note">{practiceWords.truthHelp}</p>
      <table class="table">
        <thead>
          <tr>
            <th scope="col">{readingWords.figure}</th>
            <th scope="col" class="n">{practiceWords.read}</th>
            <th scope="col" class="n">{practiceWords.true}</th>
          </tr>
        </thead>
        <tbody>
          {names.map((name) => {
            const { symbol, label, unit, scale } = figureWords(name);
            const figure = reading.values[name];
            return (
              figure && (
                <tr key={name}>
                  <th scope="row">
                    {symbol && <Symbol of={symbol} />} {label}
                  </th>
                  <td class="n">{figureText(name, figure)}</td>
                  <td class="n">{significant((truth[name] ?? 0) / scale, 4) + (unit ? NBSP + unit : '')}</td>
                </tr>
              )
            );
          })}
        </tbody>
      </table>
    </details>
  );
}
