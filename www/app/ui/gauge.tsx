// Input level: too quiet, good, too loud (hatched), words below, a triangle for the last peak.
import { linear } from './plot/scale';
import { useId } from 'preact/hooks';
import { words } from '../words/common';
import { fixed, NBSP } from './format';

/** What the gauge shows, dB below full scale. */
export interface GaugeLevel {
  now: number;
  /** Highest since the last knock or since the take began; none where nothing was heard yet. */
  peak?: number;
}

const FLOOR = -75;
/** Limits of a usable knock, as the procedure counts them. */
export const QUIET = -45;
export const LOUD = -1;
const W = 290;

/** Decibels on the gauge; the last decibel is drawn wide enough to be seen. */
const gaugePlace = linear([FLOOR, QUIET, LOUD, 0], [0, 0.4 * W, 0.94 * W, W]);
const place = (dbfs: number) => gaugePlace(Number.isFinite(dbfs) ? Math.min(0, Math.max(FLOOR, dbfs)) : FLOOR);

export function verdictOn(peak: number | undefined): 'quiet' | 'good' | 'loud' | 'none' {
  if (peak === undefined || !Number.isFinite(peak)) return 'none';
  return peak < QUIET ? 'quiet' : peak > LOUD ? 'loud' : 'good';
}

export function Gauge({ title, peakWord, level, advise }: { title: string; peakWord: (dB: string) => string; level: GaugeLevel; advise?: boolean }) {
  const hatch = useId();
  const state = verdictOn(level.peak);
  const said = level.peak !== undefined && Number.isFinite(level.peak) ? peakWord(fixed(Math.max(0, -level.peak), 0) + NBSP + 'dB') : words.gauge.nothing;
  return (
    <div class="gauge">
      <div class="gauge-head">
        <strong>{title}</strong>
        <span>{said}</span>
      </div>
      <svg viewBox={`-1 0 ${W + 2} 50`} role="img" aria-label={`${title}: ${said}. ${words.gauge[state]}`}>
        <defs>
          <pattern id={hatch} width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
            <line x1="0" y1="0" x2="0" y2="7" stroke="var(--ink)" stroke-width="2" />
          </pattern>
        </defs>
        <rect x={place(LOUD)} y="12" width={W - place(LOUD)} height="28" fill={`url(#${hatch})`} />
        <rect class="now" x="0" y="12" width={place(level.now)} height="28" />
        <rect class="frame" x="0" y="12" width={W} height="28" />
        <path class="tick" d={`M${place(QUIET)} 12V46M${place(LOUD)} 12V46`} />
        {state !== 'none' && (
          <>
            <path class="peak" d={`M${place(level.peak ?? FLOOR) - 8} 0h16l-8 10z`} />
            <path class="tick" d={`M${place(level.peak ?? FLOOR)} 10V40`} />
          </>
        )}
      </svg>
      <div class="scale" aria-hidden="true">
        <span class={state === 'quiet' ? 'is' : ''} style={{ left: '8%' }}>
          {words.gauge.quietShort}
        </span>
        <span class={state === 'good' ? 'is' : ''} style={{ left: '56%' }}>
          {words.gauge.goodShort}
        </span>
        <span class={state === 'loud' ? 'is' : ''} style={{ right: '0' }}>
          {words.gauge.loudShort}
        </span>
      </div>
      {advise && <p class="note advice">{words.gauge[state]}</p>}
    </div>
  );
}
