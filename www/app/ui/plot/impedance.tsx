// Impedance over the rule: modulus (logarithmic), phase, and what is left after the fit.
import { bisector, extent, max } from 'd3-array';
import { linear, logarithmic, type Scale } from './scale';
import { areaPath, linePath } from './path';
import { useId, useMemo } from 'preact/hooks';
import { plotWords } from '../../words/plots';
import { fixed, NBSP, significant } from '../format';
import { Dots, Hatch, HatchedBand, Key, thin, useWidth, type Dot } from './frame';
import { FrequencyRule, RULE_HEIGHT, ruleTicks } from './rule';

type Column = ArrayLike<number>;
export interface ImpedanceCurve {
  frequency_hz: Column;
  magnitude_ohm: Column;
  phase_deg: Column;
  magnitude_standard_uncertainty_ohm?: Column;
}

export interface RefusedBand {
  low_hz: number;
  high_hz: number;
  words: string;
}

export interface ImpedancePlotProps {
  measured: ImpedanceCurve;
  fit?: ImpedanceCurve;
  /** Measured less fit, per cent of the modulus, at the measured frequencies. */
  residual?: { frequency_hz: Column; percent: Column };
  refused: RefusedBand[];
  f_s_hz?: number;
  z_max_ohm?: number;
  summary: string;
}

export interface Geometry {
  width: number;
  left: number;
  right: number;
  modulus: [number, number];
  phase: [number, number];
  residual: [number, number];
  rule: number;
  height: number;
}

function geometry(width: number): Geometry {
  const narrow = width < 600;
  const top = 22;
  const modulus: [number, number] = [top, top + (narrow ? 232 : 262)];
  const phase: [number, number] = [modulus[1] + 30, modulus[1] + 30 + (narrow ? 82 : 92)];
  const residual: [number, number] = [phase[1] + 30, phase[1] + 30 + 62];
  const rule = residual[1] + 8;
  return { width, left: narrow ? 40 : 46, right: width - 1, modulus, phase, residual, rule, height: rule + RULE_HEIGHT };
}

export function ImpedancePlot(props: ImpedancePlotProps) {
  const [place, width] = useWidth();
  return (
    <div class="plot" ref={place}>
      {width > 0 && <Drawn {...props} width={width} />}
      <Key
        items={[
          ['measured', plotWords.measured],
          ...(props.fit ? ([['fit_band', plotWords.fitBand], ['phase', plotWords.phaseFit]] as ['fit_band' | 'phase', string][]) : []),
          ['hatch', plotWords.saysNothing],
        ]}
      />
    </div>
  );
}

function Drawn({ measured, fit, residual, refused, f_s_hz, z_max_ohm, summary, width }: ImpedancePlotProps & { width: number }) {
  const id = useId();
  const g = geometry(width);
  const scales = useMemo(() => scalesFor(measured, fit, residual, g), [measured, fit, residual, width]);
  const { x, ohm, degree, percent } = scales;
  const miss = missAt(residual);
  const bands = withEnds(refused, measured, x);
  const said = (hz: number) => !bands.some((b) => hz > b.low_hz && hz < b.high_hz);
  const dots = (column: Column, y: (v: number) => number) =>
    thin(
      Array.from(measured.frequency_hz, (hz, i): Dot => ({ x: x(hz), y: y(column[i] ?? NaN), miss: miss(hz) })).filter((d, i) => inside(d, g, measured.frequency_hz[i] ?? 0, said)),
      width < 600 ? 9 : 11,
    );
  return (
    <svg viewBox={`0 0 ${g.width} ${g.height}`} role="img" aria-label={summary}>
      <defs>
        <Hatch id={`${id}h`} />
        <clipPath id={`${id}c`}>
          <rect x={g.left} y={g.modulus[0]} width={g.right - g.left} height={g.residual[1] - g.modulus[0]} />
        </clipPath>
      </defs>
      <Grid g={g} x={x} y={ohm} ticks={ohmTicks(ohm.domain())} rows={g.modulus} label={(v) => String(v)} />
      <Grid g={g} x={x} y={degree} ticks={degreeTicks(degree.domain())} rows={g.phase} label={signedDegree} />
      {residual && <Grid g={g} x={x} y={percent} ticks={percentTicks(percent.domain())} rows={g.residual} label={signedPercent} />}
      {bands.map((b) => (
        <HatchedBand key={b.low_hz} id={`${id}h`} x0={x(b.low_hz)} x1={x(b.high_hz)} y0={g.modulus[0]} y1={g.modulus[1]} />
      ))}
      {bands.map((b) => (
        <HatchedBand key={`p${b.low_hz}`} id={`${id}h`} x0={x(b.low_hz)} x1={x(b.high_hz)} y0={g.phase[0]} y1={g.phase[1]} />
      ))}
      {bands.map((b) => (
        <HatchedBand key={`r${b.low_hz}`} id={`${id}h`} x0={x(b.low_hz)} x1={x(b.high_hz)} y0={g.residual[0]} y1={g.residual[1]} />
      ))}
      <g clip-path={`url(#${id}c)`}>
        {fit && <FitCurves fit={fit} x={x} ohm={ohm} degree={degree} said={said} />}
        <Dots dots={dots(measured.magnitude_ohm, ohm)} />
        <Dots dots={dots(measured.phase_deg, degree)} />
        {residual && <Stems residual={residual} x={x} y={percent} said={said} pitch={width < 600 ? 9 : 11} />}
      </g>
      {bands.map((b) => (
        <BandWords key={`w${b.low_hz}`} band={b} x={x} g={g} />
      ))}
      <PeakLabel f_s_hz={f_s_hz} z_max_ohm={z_max_ohm} x={x} ohm={ohm} g={g} />
      <path class="axis" d={`M${g.left} ${g.modulus[0]}V${g.modulus[1]}H${g.right}M${g.left} ${g.phase[0]}V${g.phase[1]}M${g.left} ${g.residual[0]}V${g.residual[1]}`} />
      <Title g={g} at={g.modulus[0]} text={plotWords.modulus} />
      <Title g={g} at={g.phase[0]} text={plotWords.phase} />
      {residual && <Title g={g} at={g.residual[0]} text={plotWords.residual} />}
      <FrequencyRule x={x} y={g.rule} />
    </svg>
  );
}

function inside(d: Dot, g: Geometry, hz: number, said: (hz: number) => boolean): boolean {
  return Number.isFinite(d.y) && d.x >= g.left && d.x <= g.right && said(hz);
}

function missAt(residual: ImpedancePlotProps['residual']): (hz: number) => number {
  if (!residual) return () => 0;
  const frequencies = Array.from(residual.frequency_hz);
  const nearest = bisector((v: number) => v).center;
  return (hz) => Math.abs(residual.percent[nearest(frequencies, hz)] ?? 0);
}

function scalesFor(measured: ImpedanceCurve, fit: ImpedanceCurve | undefined, residual: ImpedancePlotProps['residual'], g: Geometry) {
  const [first = 10, last = 20000] = extent(Array.from(measured.frequency_hz));
  const x = logarithmic([first < 9.5 ? 5 : 10, last > 20500 ? last : 20000], [g.left, g.right]);
  const [low = 1, high = 100] = extent([...Array.from(measured.magnitude_ohm), ...(fit ? Array.from(fit.magnitude_ohm) : [])].filter((v) => v > 0));
  const ohm = logarithmic([low / 1.6, high * 1.35], [g.modulus[1], g.modulus[0]]);
  const steepest = Math.max(60, (max(Array.from(measured.phase_deg), Math.abs) ?? 60) * 1.1);
  const degree = linear([-steepest, steepest], [g.phase[1], g.phase[0]]);
  const worst = residual ? (max(Array.from(residual.percent), Math.abs) ?? 1) : 1;
  const most = Math.min(Math.max(worst * 1.15, 0.5), 50);
  const percent = linear([-most, most], [g.residual[1], g.residual[0]]);
  return { x, ohm, degree, percent };
}

export function ohmTicks(domain: number[]): number[] {
  const [low = 1, high = 100] = domain;
  const ticks: number[] = [];
  for (let decade = 10 ** Math.floor(Math.log10(low)); decade <= high; decade *= 10)
    for (const digit of [1, 2, 5]) if (digit * decade >= low && digit * decade <= high) ticks.push(Number((digit * decade).toPrecision(2)));
  return ticks;
}

const degreeTicks = (domain: number[]) => ((domain[1] ?? 90) > 95 ? [-90, 0, 90] : [-45, 0, 45]);
const signedDegree = (v: number) => (v === 0 ? '0°' : v > 0 ? `+${v}` : fixed(v, 0));

function percentTicks(domain: number[]): number[] {
  const most = domain[1] ?? 1;
  const step = [0.2, 0.5, 1, 2, 5, 10, 20, 40].filter((s) => s <= most * 0.95).pop() ?? 0.2;
  return [-step, 0, step];
}
const signedPercent = (v: number) => (v === 0 ? `0${NBSP}%` : (v > 0 ? '+' : '') + fixed(v, Math.abs(v) < 1 ? 1 : 0));

export function Grid({ g, x, y, ticks, rows, label }: { g: Geometry; x: Scale; y: Scale; ticks: number[]; rows: [number, number]; label: (v: number) => string }) {
  return (
    <g>
      <g class="grid">
        {ruleTicks(x)
          .filter(({ digit }) => digit === 1 || digit === 2 || digit === 5)
          .map(({ hz, digit }) => (
            <line key={hz} class={digit === 1 && hz >= 100 ? 'decade' : ''} x1={x(hz)} x2={x(hz)} y1={rows[0]} y2={rows[1]} />
          ))}
        {ticks.map((v) => (
          <line key={v} class={v === 0 ? 'decade' : ''} x1={g.left} x2={g.right} y1={y(v)} y2={y(v)} />
        ))}
      </g>
      {ticks.map((v) => (
        <text key={v} x={g.left - 6} y={y(v) + 5} text-anchor="end">
          {label(v)}
        </text>
      ))}
    </g>
  );
}

function FitCurves({ fit, x, ohm, degree, said }: { fit: ImpedanceCurve; x: Scale; ohm: Scale; degree: Scale; said: (hz: number) => boolean }) {
  const index = Array.from(fit.frequency_hz, (_, i) => i);
  const hz = (i: number) => fit.frequency_hz[i] ?? 0;
  const u = fit.magnitude_standard_uncertainty_ohm;
  const shown = (i: number) => said(hz(i));
  const across = (i: number) => x(hz(i));
  const modulus = linePath(index, shown, across, (i) => ohm(fit.magnitude_ohm[i] ?? 1));
  const phase = linePath(index, shown, across, (i) => degree(fit.phase_deg[i] ?? 0));
  const edge = (i: number, side: number) => ohm(Math.max(1e-3, (fit.magnitude_ohm[i] ?? 1) + side * 2 * (u?.[i] ?? 0)));
  return (
    <g>
      {u && <path class="band" d={areaPath(index, shown, across, (i) => edge(i, -1), (i) => edge(i, 1))} />}
      <path class="fit" d={modulus} />
      <path class="fit phase" d={phase} />
    </g>
  );
}

function Stems({ residual, x, y, said, pitch }: { residual: NonNullable<ImpedancePlotProps['residual']>; x: Scale; y: Scale; said: (hz: number) => boolean; pitch: number }) {
  const all = Array.from(residual.frequency_hz, (hz, i): Dot & { hz: number } => {
    const p = residual.percent[i] ?? 0;
    return { hz, x: x(hz), y: y(p), miss: Math.abs(p) };
  }).filter((d) => said(d.hz));
  const dots = thin(all, pitch);
  return (
    <g>
      {dots.map((d, i) => (
        <line key={i} class="stem" x1={d.x} x2={d.x} y1={y(0)} y2={d.y} />
      ))}
      <Dots dots={dots} r={1.8} />
    </g>
  );
}

/** Where the take does not reach the ends of the rule, the end is refused as well. */
function withEnds(refused: RefusedBand[], measured: ImpedanceCurve, x: Scale): RefusedBand[] {
  const [low = 10, high = 20000] = x.domain();
  const [first = low, last = high] = extent(Array.from(measured.frequency_hz));
  const ends: RefusedBand[] = [];
  if (first > low * 1.03) ends.push({ low_hz: low, high_hz: first, words: plotWords.nothingBelow(axisText(first)) });
  if (last < high * 0.97) ends.push({ low_hz: last, high_hz: high, words: plotWords.nothingAbove(axisText(last)) });
  return [...ends, ...refused];
}

const axisText = (hz: number) => (hz >= 1000 ? `${significant(hz / 1000, 2)}${NBSP}kHz` : `${significant(hz, hz < 100 ? 2 : 3)}${NBSP}Hz`);

function BandWords({ band, x, g }: { band: RefusedBand; x: Scale; g: Geometry }) {
  const x0 = x(band.low_hz);
  const x1 = x(band.high_hz);
  const upright = x0 <= g.left + 1 || x1 >= g.right - 1;
  // A sliver needs no words: the key names the hatch.
  if (upright && x1 - x0 < 11) return null;
  if (upright) {
    return (
      <text class="label halo" transform={`translate(${(x0 + x1) / 2 + 5} ${g.modulus[1] - 8}) rotate(-90)`}>
        {band.words}
      </text>
    );
  }
  return (
    <text class="label halo" x={x1 + 6} y={g.modulus[1] - 10}>
      {band.words}
    </text>
  );
}

export function PeakLabel({ f_s_hz, z_max_ohm, x, ohm, g }: { f_s_hz?: number; z_max_ohm?: number; x: Scale; ohm: Scale; g: Geometry }) {
  if (!f_s_hz || !z_max_ohm || x(f_s_hz) < g.left || x(f_s_hz) > g.right - 140) return null;
  const px = x(f_s_hz);
  const py = ohm(z_max_ohm);
  return (
    <g>
      <path class="leader" d={`M${px + 7} ${py + 2}L${px + 30} ${py + 9}`} />
      <text class="label strong halo" x={px + 34} y={py + 14}>
        <tspan font-family="var(--serif)" font-style="italic">
          f
        </tspan>
        <tspan font-size="11" dy="3">
          s
        </tspan>
        <tspan dy="-3">{` ${significant(f_s_hz, 3)}${NBSP}Hz, ${significant(z_max_ohm, 3)}${NBSP}Ω`}</tspan>
      </text>
    </g>
  );
}

export function Title({ g, at, text }: { g: Geometry; at: number; text: string }) {
  return (
    <text class="panel-title" x={g.left} y={at - 8}>
      {text}
    </text>
  );
}
