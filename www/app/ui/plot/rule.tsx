// The yellow folding rule: frequency, wherever frequency appears. Ticks 1 to 9 a decade, numerals 1-2-5, decades red.
import type { Scale } from './scale';
import { axisHertz } from '../format';

export const RULE_HEIGHT = 34;

/** All ticks 1 to 9 of each decade within the scale. */
export function ruleTicks(x: Scale): { hz: number; digit: number }[] {
  const [low = 10, high = 20000] = x.domain();
  const ticks: { hz: number; digit: number }[] = [];
  for (let decade = 10 ** Math.floor(Math.log10(low)); decade <= high; decade *= 10) {
    for (let digit = 1; digit <= 9; digit++) {
      const hz = digit * decade;
      if (hz >= low * 0.9999 && hz <= high * 1.0001) ticks.push({ hz: Number(hz.toPrecision(3)), digit });
    }
  }
  return ticks;
}

/** Decades in red, apart from one at the very left end, which is an end and no decade passed. */
const isDecade = (hz: number, digit: number) => digit === 1 && hz >= 100;

export function FrequencyRule({ x, y }: { x: Scale; y: number }) {
  const [left = 0, right = 0] = x.range();
  const numerals = numeralsThatFit(x, left, right);
  return (
    <g class="rule">
      <rect class="yellow" x={left} y={y} width={right - left} height={RULE_HEIGHT} />
      {ruleTicks(x).map(({ hz, digit }) => (
        <line key={hz} class={isDecade(hz, digit) ? 'decade' : ''} x1={x(hz)} x2={x(hz)} y1={y} y2={y + (isDecade(hz, digit) ? 13 : digit === 2 || digit === 5 || digit === 1 ? 10 : 7)} />
      ))}
      {numerals.map(({ hz, digit, at }) => (
        <text key={hz} class={isDecade(hz, digit) ? 'decade' : ''} x={at} y={y + 29} text-anchor="middle">
          {axisHertz(hz)}
        </text>
      ))}
    </g>
  );
}

/** Decades first; then 2 and 5 where there is room. Numerals at the ends are pulled inside the rule. */
function numeralsThatFit(x: Scale, left: number, right: number) {
  const narrow = right - left < 450;
  const [low] = x.domain();
  const wanted = ruleTicks(x)
    .filter(({ hz, digit }) => (digit === 1 || digit === 2 || digit === 5) && !(narrow && hz === low))
    .sort((a, b) => Number(b.digit === 1) - Number(a.digit === 1) || Number(b.digit === 2) - Number(a.digit === 2));
  const kept: { hz: number; digit: number; at: number; half: number }[] = [];
  for (const { hz, digit } of wanted) {
    const half = axisHertz(hz).length * 4.6;
    const at = Math.min(right - half - 4, Math.max(left + half + 4, x(hz)));
    if (kept.every((k) => Math.abs(k.at - at) > k.half + half + 4)) kept.push({ hz, digit, at, half });
  }
  return kept;
}
