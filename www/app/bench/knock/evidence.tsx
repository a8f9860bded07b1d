// Evidence of a knock: the ring with its fit, and how far the knocks agree.
import type { Reading } from '../../core/types.gen';
import { figureWords } from '../../words/figures';
import { readingWords } from '../../words/reading';
import { AgreementPlot } from '../../ui/plot/agreement';
import { DecayPlot } from '../../ui/plot/decay';
import { CurveTable } from '../../ui/tables';
import { column, columns } from '../curves';

export function KnockEvidence({ reading }: { reading: Reading }) {
  const time_s = column(reading, 'decay', 'time_s');
  const measured = column(reading, 'decay', 'measured');
  const knocks = column(reading, 'knocks', 'f_s_hz')?.length ?? 1;
  return (
    <>
      {time_s && measured && time_s.length > 1 && (
        <section class="plot-head">
          <h2>{readingWords.decay}</h2>
          <Decay reading={reading} time_s={time_s} measured={measured} knocks={knocks} />
          <CurveTable title={readingWords.decay} curve={columns(reading, 'decay') ?? {}} />
        </section>
      )}
      {knocks > 1 && (
        <section class="plot-head">
          <h2>{readingWords.agree(readingWords.numbersWords[knocks] ?? String(knocks))}</h2>
          <div class="agreement">
            <Agreement reading={reading} figure="f_s_hz" />
            <Agreement reading={reading} figure="q_ms" />
          </div>
          <CurveTable title={readingWords.agree(String(knocks))} curve={columns(reading, 'knocks') ?? {}} />
        </section>
      )}
    </>
  );
}

function Decay({ reading, time_s, measured, knocks }: { reading: Reading; time_s: ArrayLike<number>; measured: ArrayLike<number>; knocks: number }) {
  const fit = column(reading, 'decay', 'fit');
  const envelope = column(reading, 'decay', 'envelope');
  const f_s = reading.values['f_s_hz']?.value;
  const q = reading.values['q_ms']?.value;
  // An exponential of quality Q halves in Q ln 2 / (π f).
  const halves = f_s && q ? (q * Math.LN2) / (Math.PI * f_s) : undefined;
  const from = column(reading, 'decay', 'fit_from_s')?.[0];
  return <DecayPlot time_s={time_s} measured={measured} {...(fit ? { fit } : {})} {...(envelope ? { envelope } : {})} fitFrom_s={from ?? time_s[0] ?? 0} {...(halves && envelope ? { halves_s: halves } : {})} knocks={knocks} summary={readingWords.decaySummary(knocks)} />;
}

function Agreement({ reading, figure }: { reading: Reading; figure: string }) {
  const values = column(reading, 'knocks', figure);
  if (!values) return null;
  const u = column(reading, 'knocks', `${figure}_standard_uncertainty`) ?? column(reading, 'knocks', `${figure.replace(/_hz$/, '')}_standard_uncertainty_hz`);
  const given = reading.values[figure];
  const { symbol, unit, label } = figureWords(figure);
  const rows = Array.from(values, (value, i) => ({ label: String(i + 1), value, ...(u ? { half: 2 * (u[i] ?? 0) } : {}) }));
  return <AgreementPlot symbol={symbol ?? figure} {...(unit ? { unit: `${readingWords.inUnit} ${unit}` } : {})} rows={rows} {...(given ? { mean: given.value } : {})} {...(given?.half_width_95 != null ? { half: given.half_width_95 } : {})} summary={readingWords.agreeSummary(label)} />;
}
