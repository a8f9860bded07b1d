// A figure over the height of the ring: flat where nothing rubs.
import { extent } from 'd3-array';
import { linear, widened } from './scale';
import { plotWords } from '../../words/plots';
import { fixed, NBSP } from '../format';
import { Symbol } from '../symbol';
import { Dots, useWidth } from './frame';

interface Props {
  symbol: string;
  unit?: string;
  amplitude_dbfs: ArrayLike<number>;
  values: ArrayLike<number>;
  mean?: number;
  summary: string;
}

export function AmplitudePlot(props: Props) {
  const [place, width] = useWidth();
  return (
    <div class="plot" ref={place}>
      <p class="note">
        <Symbol of={props.symbol} /> {props.unit ?? ''}
      </p>
      {width > 0 && <Drawn {...props} width={width} />}
    </div>
  );
}

function Drawn({ amplitude_dbfs, values, mean, summary, width }: Props & { width: number }) {
  const bottom = 120;
  const [low = -60, high = 0] = extent(Array.from(amplitude_dbfs));
  const [least = 0, most = 1] = extent([...Array.from(values), ...(mean === undefined ? [] : [mean])]);
  const margin = Math.max((most - least) * 0.15, Math.abs(most) * 2e-3);
  const x = linear(widened([low, high], 4), [58, width - 8]);
  const y = linear(widened([least - margin, most + margin], 3), [bottom, 6]);
  const rows = y.ticks(3);
  const step = Math.abs((rows[1] ?? 1) - (rows[0] ?? 0)) || 1;
  const decimals = Math.max(0, Math.ceil(-Math.log10(step) - 1e-6));
  const ticks = x.ticks(4);
  return (
    <svg viewBox={`0 0 ${width} ${bottom + 36}`} role="img" aria-label={summary}>
      <g class="grid">
        {rows.map((v) => (
          <line key={v} x1="58" x2={width - 8} y1={y(v)} y2={y(v)} />
        ))}
      </g>
      {rows.map((v) => (
        <text key={v} x="52" y={y(v) + 5} text-anchor="end">
          {fixed(v, decimals)}
        </text>
      ))}
      {mean !== undefined && <line class="mean" x1="58" x2={width - 8} y1={y(mean)} y2={y(mean)} />}
      <Dots dots={Array.from(values, (v, i) => ({ x: x(amplitude_dbfs[i] ?? 0), y: y(v), miss: 0 }))} r={3} />
      <g class="axis">
        <line x1="58" x2={width - 8} y1={bottom} y2={bottom} />
        {ticks.map((t, i) => (
          <g key={t}>
            <line x1={x(t)} x2={x(t)} y1={bottom} y2={bottom + 7} />
            <text x={Math.min(x(t), width - 26)} y={bottom + 24} text-anchor="middle" stroke="none">
              {fixed(t, 0)}
              {i === ticks.length - 1 ? `${NBSP}dB` : ''}
            </text>
          </g>
        ))}
      </g>
      <title>{plotWords.amplitude}</title>
    </svg>
  );
}
