// Impedance of the two of a pair over the rule, small enough to stand beside another on a sheet; what was found before
// is dotted in the colour of its side.
import { useId } from 'preact/hooks';
import { plotWords } from '../../words/plots';
import { Grid, ohmTicks, type Geometry } from './impedance';
import { linePath } from './path';
import { FrequencyRule, RULE_HEIGHT } from './rule';
import { logarithmic } from './scale';

export interface PartnerCurve {
  kind: 'left' | 'right' | 'left_found' | 'right_found';
  frequency_hz: ArrayLike<number>;
  magnitude_ohm: ArrayLike<number>;
}

const WIDTH = 380;
const HEIGHT = 134;

export function PartnersPlot({ curves, summary, title }: { curves: PartnerCurve[]; summary: string; title: string }) {
  const id = useId();
  const g: Geometry = { width: WIDTH, left: 34, right: WIDTH - 1, modulus: [16, HEIGHT], phase: [16, HEIGHT], residual: [16, HEIGHT], rule: HEIGHT + 4, height: HEIGHT + 4 + RULE_HEIGHT };
  const all = curves.flatMap((c) => Array.from(c.frequency_hz, (hz, i) => ({ hz, ohm: c.magnitude_ohm[i] ?? NaN }))).filter((p) => p.hz >= 10 && p.hz <= 20000 && p.ohm > 0);
  if (all.length === 0) return null;
  const ohms = all.map((p) => p.ohm);
  const x = logarithmic([10, 20000], [g.left, g.right]);
  const y = logarithmic([Math.min(...ohms) / 1.3, Math.max(...ohms) * 1.25], [g.modulus[1], g.modulus[0]]);
  // What is drawn first lies behind.
  const order = ['left_found', 'right_found', 'left', 'right'];
  const drawn = [...curves].sort((a, b) => order.indexOf(a.kind) - order.indexOf(b.kind));
  return (
    <div class="plot partners">
      <svg viewBox={`0 0 ${g.width} ${g.height}`} role="img" aria-label={summary}>
        <defs>
          <clipPath id={`${id}c`}>
            <rect x={g.left} y={g.modulus[0]} width={g.right - g.left} height={g.modulus[1] - g.modulus[0]} />
          </clipPath>
        </defs>
        <text class="panel-title" x={0} y={10}>
          {title}
        </text>
        <text x={g.right} y={10} text-anchor="end">
          {plotWords.modulus}
        </text>
        <Grid g={g} x={x} y={y} ticks={ohmTicks(y.domain())} rows={g.modulus} label={(v) => String(v)} />
        <g clip-path={`url(#${id}c)`}>
          {drawn.map((c) => {
            const index = Array.from(c.frequency_hz, (_, i) => i);
            const shown = (i: number) => (c.magnitude_ohm[i] ?? 0) > 0;
            return <path key={c.kind} class={`side ${c.kind}`} d={linePath(index, shown, (i) => x(c.frequency_hz[i] ?? 1), (i) => y(c.magnitude_ohm[i] ?? 1))} />;
          })}
        </g>
        <path class="axis" d={`M${g.left} ${g.modulus[0]}V${g.modulus[1]}H${g.right}`} />
        <FrequencyRule x={x} y={g.rule} />
      </svg>
    </div>
  );
}

/** The lines of such plots, named once for all of them. */
export function PartnersKey({ items }: { items: [PartnerCurve['kind'], string][] }) {
  return (
    <ul class="key partners-key">
      {items.map(([kind, text]) => (
        <li key={kind} class="plot">
          <svg viewBox="0 0 34 14" aria-hidden="true" focusable="false">
            <path class={`side ${kind}`} d="M0 7H34" />
          </svg>
          {text}
        </li>
      ))}
    </ul>
  );
}
