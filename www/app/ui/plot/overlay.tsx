// Curves of impedance drawn over each other: a pair, or the same part on several days. Colour and dash say whose it is.
import { extent } from 'd3-array';
import { useId, useMemo } from 'preact/hooks';
import { plotWords } from '../../words/plots';
import { useWidth } from './frame';
import { Grid, ohmTicks, Title, type Geometry } from './impedance';
import { linePath } from './path';
import { FrequencyRule, RULE_HEIGHT } from './rule';
import { logarithmic } from './scale';

export type Whose = 'fit' | 'partner' | 'earlier';

export interface OverlayCurve {
  whose: Whose;
  label: string;
  frequency_hz: ArrayLike<number>;
  magnitude_ohm: ArrayLike<number>;
}

interface Props {
  curves: OverlayCurve[];
  summary: string;
  /** Height of the drawing without its rule. */
  tall?: number;
}

export function Overlay(props: Props) {
  const [place, width] = useWidth();
  return (
    <div class="plot overlay" ref={place}>
      {width > 0 && <Drawn {...props} width={width} />}
      <ul class="overlay-key">
        {props.curves.map((curve, i) => (
          <li key={i}>
            <svg width="44" height="12" aria-hidden="true">
              <path class={curve.whose} d="M2 6H42" />
            </svg>{' '}
            {curve.label}
          </li>
        ))}
      </ul>
    </div>
  );
}

/** Behind lies what is looked at least: earlier ones first, the part's own curve last. */
const ORDER: Whose[] = ['earlier', 'partner', 'fit'];

function Drawn({ curves, summary, tall = 200, width }: Props & { width: number }) {
  const id = useId();
  const top = 22;
  const rows: [number, number] = [top, top + tall];
  const g: Geometry = { width, left: width < 600 ? 40 : 46, right: width - 1, modulus: rows, phase: rows, residual: rows, rule: rows[1] + 8, height: rows[1] + 8 + RULE_HEIGHT };
  const { x, ohm } = useMemo(() => scales(curves, g), [curves, width, tall]);
  const behind = [...curves].sort((a, b) => ORDER.indexOf(a.whose) - ORDER.indexOf(b.whose));
  return (
    <svg viewBox={`0 0 ${g.width} ${g.height}`} role="img" aria-label={summary}>
      <defs>
        <clipPath id={id}>
          <rect x={g.left} y={rows[0]} width={g.right - g.left} height={tall} />
        </clipPath>
      </defs>
      <Grid g={g} x={x} y={ohm} ticks={ohmTicks(ohm.domain())} rows={rows} label={(v) => String(v)} />
      <g clip-path={`url(#${id})`}>
        {behind.map((curve, i) => {
          const index = Array.from(curve.frequency_hz, (_, k) => k);
          const path = linePath(index, (k) => Number.isFinite(curve.magnitude_ohm[k] ?? NaN), (k) => x(curve.frequency_hz[k] ?? 1), (k) => ohm(curve.magnitude_ohm[k] ?? 1));
          return <path key={i} class={curve.whose} d={path} />;
        })}
      </g>
      <path class="axis" d={`M${g.left} ${rows[0]}V${rows[1]}H${g.right}`} />
      <Title g={g} at={rows[0]} text={plotWords.modulus} />
      <FrequencyRule x={x} y={g.rule} />
    </svg>
  );
}

function scales(curves: OverlayCurve[], g: Geometry) {
  const [first = 10, last = 20_000] = extent(curves.flatMap((c) => Array.from(c.frequency_hz)));
  const [low = 1, high = 100] = extent(curves.flatMap((c) => Array.from(c.magnitude_ohm)).filter((v) => v > 0));
  return { x: logarithmic([Math.max(5, first), last], [g.left, g.right]), ohm: logarithmic([low / 1.4, high * 1.3], [g.modulus[1], g.modulus[0]]) };
}
