// The ring after a knock, over a plain rule of time, and the fit over it.
import { extent, max } from 'd3-array';
import { linear, type Scale } from './scale';
import { linePath } from './path';
import { useId } from 'preact/hooks';
import { plotWords } from '../../words/plots';
import { fixed, NBSP, significant } from '../format';
import { Dots, Hatch, Key, thin, useWidth, type Dot } from './frame';

type Column = ArrayLike<number>;

export interface DecayPlotProps {
  /** Seconds from the knock. */
  time_s: Column;
  measured: Column;
  fit?: Column;
  envelope?: Column;
  /** Everything before is the knock itself and not fitted. */
  fitFrom_s: number;
  /** Time in which the ring halves. */
  halves_s?: number;
  /** How many knocks lie together. */
  knocks: number;
  summary: string;
}

export function DecayPlot(props: DecayPlotProps) {
  const [place, width] = useWidth();
  return (
    <div class="plot" ref={place}>
      {width > 0 && <Drawn {...props} width={width} />}
      <Key items={[['measured', plotWords.measuredKnocks(props.knocks)], ...(props.fit ? ([['fit', plotWords.fit]] as ['fit', string][]) : []), ...(props.envelope ? ([['envelope', plotWords.envelope]] as ['envelope', string][]) : [])]} />
    </div>
  );
}

function Drawn({ time_s, measured, fit, envelope, fitFrom_s, halves_s, summary, width }: DecayPlotProps & { width: number }) {
  const id = useId();
  const height = 214;
  const [begin = 0, last = 1] = extent(Array.from(time_s));
  // What was left out is shown as such, also where nothing of it is drawn.
  const first = Math.min(begin, 0);
  const x = linear([first, last], [1, width - 1]);
  const fitted = Array.from(time_s, (t, i) => (t >= fitFrom_s ? Math.abs(measured[i] ?? 0) : 0));
  const top = Math.max(max(fitted) ?? 1, 1e-9) * 1.25;
  const y = linear([-top, top], [height, 0]);
  const index = Array.from(time_s, (_, i) => i);
  const t = (i: number) => time_s[i] ?? 0;
  const path = (column: Column, sign = 1) =>
    linePath(index, (i) => t(i) >= fitFrom_s, (i) => x(t(i)), (i) => y(sign * (column[i] ?? 0)));
  const dots = thin(
    index
      .map((i): Dot => ({ x: x(t(i)), y: y(measured[i] ?? 0), miss: fit ? Math.abs((fit[i] ?? 0) - (measured[i] ?? 0)) : Math.abs(measured[i] ?? 0) }))
      .filter((d) => d.y >= 0 && d.y <= height),
    5,
  );
  return (
    <svg viewBox={`0 0 ${width} ${height + 40}`} role="img" aria-label={summary}>
      <defs>
        <Hatch id={`${id}h`} />
        <clipPath id={`${id}c`}>
          <rect x="0" y="0" width={width} height={height} />
        </clipPath>
      </defs>
      <g class="grid">
        {x.ticks(width < 600 ? 4 : 6).map((tick) => (
          <line key={tick} x1={x(tick)} x2={x(tick)} y1="0" y2={height} />
        ))}
      </g>
      <line class="nought" x1="0" x2={width} y1={y(0)} y2={y(0)} />
      {fitFrom_s > first && (
        <g>
          <rect x="1" y="0" width={Math.max(0, x(fitFrom_s) - 1)} height={height} fill={`url(#${id}h)`} />
          <line class="hatch-edge" x1={x(fitFrom_s)} x2={x(fitFrom_s)} y1="0" y2={height} />
          <text class="label halo" x={x(fitFrom_s) + 6} y={height - 8}>
            {plotWords.knockItself}
          </text>
        </g>
      )}
      <g clip-path={`url(#${id}c)`}>
        {envelope && <path class="envelope" d={path(envelope) + path(envelope, -1)} />}
        {fit && <path class="fit" d={path(fit)} />}
        <Dots dots={dots} r={2.1} />
      </g>
      {halves_s !== undefined && envelope && <Halving x={x} y={y} from={fitFrom_s} halves={halves_s} envelope={envelope} time_s={time_s} width={width} />}
      <line class="axis" x1="1" x2="1" y1="0" y2={height} />
      <TimeRule x={x} y={height} width={width} />
    </svg>
  );
}

function Halving({ x, y, from, halves, envelope, time_s, width }: { x: Scale; y: Scale; from: number; halves: number; envelope: Column; time_s: Column; width: number }) {
  const at = Array.from(time_s).findIndex((t) => t >= from + halves);
  if (at < 0) return null;
  const px = x(time_s[at] ?? 0);
  const py = y(envelope[at] ?? 0);
  const tx = Math.min(px + 110, width - 170);
  return (
    <g>
      <path class="leader" d={`M${px + 3} ${py - 3}L${tx - 6} 20`} />
      <text class="label halo" x={tx} y="22">
        {plotWords.halvesEvery(`${significant(halves * 1000, 2)}${NBSP}ms`)}
      </text>
    </g>
  );
}

function TimeRule({ x, y, width }: { x: Scale; y: number; width: number }) {
  const ticks = x.ticks(width < 600 ? 4 : 6);
  const step = (ticks[1] ?? 1) - (ticks[0] ?? 0);
  const small = x.ticks(ticks.length * 5);
  const inSeconds = step >= 0.5;
  return (
    <g class="axis">
      <line x1="1" x2={width - 1} y1={y + 4} y2={y + 4} />
      {small.map((t) => (
        <line key={t} x1={x(t)} x2={x(t)} y1={y + 4} y2={y + 8} stroke-width="1" />
      ))}
      {ticks.map((t, i) => (
        <g key={t}>
          <line x1={x(t)} x2={x(t)} y1={y + 4} y2={y + 13} />
          <text x={Math.min(width - 24, Math.max(8, x(t)))} y={y + 30} text-anchor="middle" stroke="none">
            {fixed(inSeconds ? t : t * 1000, inSeconds && step < 1 ? 1 : 0)}
            {i === ticks.length - 1 ? NBSP + (inSeconds ? 's' : 'ms') : ''}
          </text>
        </g>
      ))}
    </g>
  );
}
