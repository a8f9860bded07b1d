// How far the knocks agree: a row a knock, open dot with whisker; band and line for the figure given.
import { extent } from 'd3-array';
import { linear, widened } from './scale';
import { fixed } from '../format';
import { Symbol } from '../symbol';
import { useWidth } from './frame';

export interface AgreementRow {
  label: string;
  value: number;
  /** Half of the whisker. */
  half?: number;
}

export function AgreementPlot({ symbol, unit, rows, mean, half, summary }: { symbol: string; unit?: string; rows: AgreementRow[]; mean?: number; half?: number; summary: string }) {
  const [place, width] = useWidth();
  return (
    <div class="plot" ref={place}>
      <p class="note">
        <Symbol of={symbol} /> {unit ?? ''}
      </p>
      {width > 0 && <Drawn rows={rows} mean={mean} half={half} summary={summary} width={width} />}
    </div>
  );
}

function Drawn({ rows, mean, half, summary, width }: { rows: AgreementRow[]; mean?: number; half?: number; summary: string; width: number }) {
  const rowHeight = 22;
  const bottom = rows.length * rowHeight + 6;
  const ends = rows.flatMap((r) => [r.value - (r.half ?? 0), r.value + (r.half ?? 0)]);
  if (mean !== undefined) ends.push(mean - (half ?? 0), mean + (half ?? 0));
  const [low = 0, high = 1] = extent(ends);
  const margin = Math.max((high - low) * 0.08, Math.abs(high) * 1e-4);
  const x = linear(widened([low - margin, high + margin], 5), [30, width - 18]);
  const ticks = x.ticks(width < 420 ? 4 : 5);
  const step = Math.abs((ticks[1] ?? 1) - (ticks[0] ?? 0)) || 1;
  const decimals = Math.max(0, Math.ceil(-Math.log10(step) - 1e-6));
  return (
    <svg viewBox={`0 0 ${width} ${bottom + 32}`} role="img" aria-label={summary}>
      {mean !== undefined && half !== undefined && <rect class="band" x={x(mean - half)} y="0" width={Math.max(1, x(mean + half) - x(mean - half))} height={bottom} />}
      {mean !== undefined && <line class="mean" x1={x(mean)} x2={x(mean)} y1="0" y2={bottom} />}
      {rows.map((row, i) => {
        const y = i * rowHeight + 13;
        return (
          <g key={row.label}>
            <text x="0" y={y + 5}>
              {row.label}
            </text>
            {row.half !== undefined && <line class="whisker" x1={x(row.value - row.half)} x2={x(row.value + row.half)} y1={y} y2={y} />}
            <circle class="open-dot" cx={x(row.value)} cy={y} r="5" />
          </g>
        );
      })}
      <g class="axis">
        <line x1={x.range()[0]} x2={x.range()[1]} y1={bottom} y2={bottom} />
        {ticks.map((t) => (
          <g key={t}>
            <line x1={x(t)} x2={x(t)} y1={bottom} y2={bottom + 7} />
            <text x={x(t)} y={bottom + 24} text-anchor="middle" stroke="none">
              {fixed(t, decimals)}
            </text>
          </g>
        ))}
      </g>
    </svg>
  );
}
