// What a reading of two drivers says: both side by side with their difference; below it each driver's own knocks.
import type { Reading } from '../../core/types.gen';
import { FigureCell } from '../../ui/figure';
import { Symbol } from '../../ui/symbol';
import { figureWords } from '../../words/figures';
import { pairWords as w } from '../../words/pair';
import { KnockEvidence } from '../knock/evidence';

const FIGURES = { f_s: 'f_s_hz', q_ms: 'q_ms', q_es: 'q_es', q_ts: 'q_ts' };
const DRIVERS = ['first', 'second'] as const;

export function PairEvidence({ reading }: { reading: Reading }) {
  return (
    <>
      {reading.outcome !== 'refused' && <SideBySide reading={reading} />}
      {DRIVERS.map((driver) => (
        <details key={driver}>
          <summary>{w.knocksOf[driver]}</summary>
          <KnockEvidence reading={ofDriver(reading, driver)} />
        </details>
      ))}
    </>
  );
}

function SideBySide({ reading }: { reading: Reading }) {
  const { values } = reading;
  const rows = Object.entries(FIGURES).filter(([, name]) => DRIVERS.some((driver) => values[`${driver}_${name}`]));
  const cell = (name: string) => (values[name] ? <FigureCell name={name} figure={values[name]} /> : '\u2013');
  return (
    <section>
      <h2>{w.title}</h2>
      <p class="note">{w.help}</p>
      <div class="table-scroll whole" tabIndex={0} role="region" aria-label={w.title}>
        <table class="table">
          <thead>
            <tr>
              <th scope="col">{w.figure}</th>
              {DRIVERS.map((driver) => (
                <th scope="col" class="n" key={driver}>
                  {w.column[driver]}
                </th>
              ))}
              <th scope="col" class="n">
                {w.difference}
              </th>
            </tr>
          </thead>
          <tbody>
            {rows.map(([short, name]) => {
              const { symbol, label } = figureWords(name);
              return (
                <tr key={name}>
                  <th scope="row">
                    {symbol && <Symbol of={symbol} />} <span class="only-wide-inline">{label}</span>
                  </th>
                  {DRIVERS.map((driver) => (
                    <td class="n" key={driver}>
                      {cell(`${driver}_${name}`)}
                    </td>
                  ))}
                  <td class="n">{cell(`difference_${short}_percent`)}</td>
                </tr>
              );
            })}
          </tbody>
        </table>
      </div>
    </section>
  );
}

/** The part of a reading that belongs to one driver, under the names of a knock's reading. */
function ofDriver(reading: Reading, driver: string): Reading {
  const own = <T,>(all: Record<string, T>): Record<string, T> => Object.fromEntries(Object.entries(all).flatMap(([name, value]) => (name.startsWith(`${driver}_`) ? [[name.slice(driver.length + 1), value]] : [])));
  return { ...reading, check: 'knock', values: own(reading.values), curves: own(reading.curves) };
}
