// A few readings with error bars over a fitted modulus, on the rule.
import { useId } from 'preact/hooks';
import { meterWords } from '../../words/meter';
import { plotWords } from '../../words/plots';
import { Key, useWidth } from './frame';
import { Grid, ohmTicks, PeakLabel, Title, type Geometry } from './impedance';
import { areaPath, linePath } from './path';
import { FrequencyRule, RULE_HEIGHT } from './rule';
import { logarithmic } from './scale';

interface Curve {
  hz: ArrayLike<number>;
  ohm: ArrayLike<number>;
  u: ArrayLike<number>;
}

export interface ReadingsPlotProps {
  points: Curve;
  fit: Curve;
  peak?: { hz: number; ohm: number };
  summary: string;
}

export function ReadingsPlot(props: ReadingsPlotProps) {
  const [place, width] = useWidth();
  return (
    <div class="plot" ref={place}>
      {width > 0 && <Drawn {...props} width={width} />}
      <Key items={[['measured', meterWords.points], ...(props.fit.hz.length > 0 ? ([['fit_band', plotWords.fitBand]] as ['fit_band', string][]) : [])]} />
    </div>
  );
}

function geometry(width: number): Geometry {
  const narrow = width < 600;
  const modulus: [number, number] = [22, narrow ? 262 : 322];
  const rule = modulus[1] + 8;
  return { width, left: narrow ? 40 : 46, right: width - 1, modulus, phase: modulus, residual: modulus, rule, height: rule + RULE_HEIGHT };
}

function Drawn({ points, fit, peak, summary, width }: ReadingsPlotProps & { width: number }) {
  const id = useId();
  const g = geometry(width);
  const all = [...Array.from(points.ohm), ...Array.from(fit.ohm)].filter((v) => v > 0);
  const hz = Array.from(points.hz);
  const x = logarithmic([Math.min(10, ...hz) * 0.9, Math.max(2000, ...hz) * 1.1], [g.left, g.right]);
  const y = logarithmic([Math.min(...all) / 1.4, Math.max(...all) * 1.4], [g.modulus[1], g.modulus[0]]);
  const index = Array.from(fit.hz, (_, i) => i);
  const across = (i: number) => x(fit.hz[i] ?? 1);
  const edge = (i: number, side: number) => y(Math.max(1e-3, (fit.ohm[i] ?? 1) + side * 2 * (fit.u[i] ?? 0)));
  const always = () => true;
  return (
    <svg viewBox={`0 0 ${g.width} ${g.height}`} role="img" aria-label={summary}>
      <defs>
        <clipPath id={`${id}c`}>
          <rect x={g.left} y={g.modulus[0]} width={g.right - g.left} height={g.modulus[1] - g.modulus[0]} />
        </clipPath>
      </defs>
      <Grid g={g} x={x} y={y} ticks={ohmTicks(y.domain())} rows={g.modulus} label={(v) => String(v)} />
      <g clip-path={`url(#${id}c)`}>
        {index.length > 0 && <path class="band" d={areaPath(index, always, across, (i) => edge(i, -1), (i) => edge(i, 1))} />}
        {index.length > 0 && <path class="fit" d={linePath(index, always, across, (i) => y(fit.ohm[i] ?? 1))} />}
        {hz.map((f, i) => (
          <Point key={i} x={x(f)} y={y} ohm={points.ohm[i] ?? 1} u={points.u[i] ?? 0} />
        ))}
      </g>
      {peak && <PeakLabel f_s_hz={peak.hz} z_max_ohm={peak.ohm} x={x} ohm={y} g={g} />}
      <path class="axis" d={`M${g.left} ${g.modulus[0]}V${g.modulus[1]}H${g.right}`} />
      <Title g={g} at={g.modulus[0]} text={plotWords.modulus} />
      <FrequencyRule x={x} y={g.rule} />
    </svg>
  );
}

function Point({ x, y, ohm, u }: { x: number; y: (v: number) => number; ohm: number; u: number }) {
  const [low, high] = [y(Math.max(1e-3, ohm - 2 * u)), y(ohm + 2 * u)];
  return (
    <g class="measured">
      <path class="axis" d={`M${x} ${low}V${high}M${x - 4} ${low}h8M${x - 4} ${high}h8`} />
      <circle cx={x} cy={y(ohm)} r="3.4" />
    </g>
  );
}
