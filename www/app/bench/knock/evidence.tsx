// Evidence of a knock: the ring with its fit, and how far the knocks agree.
import type { Reading } from '../../core/types.gen';
import { figureWords } from '../../words/figures';
import { readingWords } from '../../words/reading';
import { AmplitudePlot } from '../../ui/plot/amplitude';
import { AgreementPlot } from '../../ui/plot/agreement';
import { DecayPlot } from '../../ui/plot/decay';
import { CurveTable } from '../../ui/tables';
import { column, columns } from '../curves';

export function KnockEvidence({ reading }: { reading: Reading }) {
  const time_s = column(reading, 'ring', 'time_s');
  const measured = column(reading, 'ring', 'measured');
  const open = openKnocks(reading);
  const knocks = open.length;
  return (
    <>
      {time_s && measured && time_s.length > 1 && (
        <section class="plot-head">
          <h2>{readingWords.decay}</h2>
          <Decay reading={reading} time_s={time_s} measured={measured} />
          <CurveTable title={readingWords.decay} curve={columns(reading, 'ring') ?? {}} />
        </section>
      )}
      {knocks > 1 && (
        <section class="plot-head">
          <h2>{readingWords.agree(readingWords.numbersWords[knocks] ?? String(knocks))}</h2>
          <div class="agreement">
            <Agreement reading={reading} figure="f_s_hz" rows={open} />
            <Agreement reading={reading} figure="q_ms" rows={open} />
          </div>
          <p class="note">{readingWords.agreeHelp}</p>
          <CurveTable title={readingWords.agree(String(knocks))} curve={columns(reading, 'knocks') ?? {}} />
        </section>
      )}
      <OverAmplitude reading={reading} />
    </>
  );
}

/** Friction shows here: Q falls as the ring dies away. */
function OverAmplitude({ reading }: { reading: Reading }) {
  const amplitude_dbfs = column(reading, 'amplitude', 'amplitude_dbfs');
  const f = column(reading, 'amplitude', 'f_s_hz');
  const q = column(reading, 'amplitude', 'q');
  if (!amplitude_dbfs || !f || !q || amplitude_dbfs.length < 3) return null;
  const mean = (name: string) => (reading.values[name] ? { mean: reading.values[name].value } : {});
  return (
    <section class="plot-head">
      <h2>{readingWords.overAmplitude}</h2>
      <p class="note">{readingWords.overAmplitudeHelp}</p>
      <div class="agreement">
        <AmplitudePlot symbol="f_s" unit={`${readingWords.inUnit} Hz`} amplitude_dbfs={amplitude_dbfs} values={f} {...mean('f_s_hz')} summary={readingWords.overAmplitudeSummary(figureWords('f_s_hz').label)} />
        <AmplitudePlot symbol="q_ms" amplitude_dbfs={amplitude_dbfs} values={q} {...mean('q_ms')} summary={readingWords.overAmplitudeSummary(figureWords('q_ms').label)} />
      </div>
      <CurveTable title={readingWords.overAmplitude} curve={columns(reading, 'amplitude') ?? {}} />
    </section>
  );
}

/** Rows of the knocks with open terminals and nothing on the cone: only they belong to the figures as they are shown. */
function openKnocks(reading: Reading): number[] {
  const f = column(reading, 'knocks', 'f_s_hz');
  const condition = column(reading, 'knocks', 'condition');
  return Array.from(f ?? [], (_, i) => i).filter((i) => !condition || condition[i] === 0);
}

function Decay({ reading, time_s, measured }: { reading: Reading; time_s: ArrayLike<number>; measured: ArrayLike<number> }) {
  const fit = column(reading, 'ring', 'fit');
  const envelope = column(reading, 'ring', 'envelope');
  const f_s = reading.values['f_s_hz']?.value;
  const q = reading.values['q_ms']?.value;
  // An exponential of quality Q halves in Q ln 2 / (π f).
  const halves = f_s && q ? (q * Math.LN2) / (Math.PI * f_s) : undefined;
  return <DecayPlot time_s={time_s} measured={measured} {...(fit ? { fit } : {})} {...(envelope ? { envelope } : {})} fitFrom_s={time_s[0] ?? 0} {...(halves && envelope ? { halves_s: halves } : {})} knocks={1} summary={readingWords.decaySummary} />;
}

function Agreement({ reading, figure, rows: which }: { reading: Reading; figure: string; rows: number[] }) {
  const values = column(reading, 'knocks', figure);
  if (!values) return null;
  const u = column(reading, 'knocks', `${figure}_standard_uncertainty`) ?? column(reading, 'knocks', `${figure.replace(/_hz$/, '')}_standard_uncertainty_hz`);
  const given = reading.values[figure];
  const { symbol, unit, label } = figureWords(figure);
  const rows = which.map((i, k) => ({ label: String(k + 1), value: values[i] ?? NaN, ...(u ? { half: 2 * (u[i] ?? 0) } : {}) }));
  return <AgreementPlot symbol={symbol ?? figure} {...(unit ? { unit: `${readingWords.inUnit} ${unit}` } : {})} rows={rows} {...(given ? { mean: given.value } : {})} {...(given?.half_width_95 != null ? { half: given.half_width_95 } : {})} summary={readingWords.agreeSummary(label)} />;
}
