// What all plots share: width of the place, hatch for what the take does not say, key, dots thinned without hiding a miss.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';

/** Width of the place in CSS pixels; text in a plot keeps its size, so a plot is drawn for its place. */
export function useWidth(): [preact.RefObject<HTMLDivElement>, number] {
  const place = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(0);
  useEffect(() => {
    const element = place.current;
    if (!element) return;
    const set = () => setWidth(Math.max(280, Math.round(element.clientWidth)));
    set();
    const observer = new ResizeObserver(set);
    observer.observe(element);
    // A4 and Letter hold about 710 px between our margins.
    const before = () => setWidth(element.closest('.agreement') ? 340 : 710);
    window.addEventListener('beforeprint', before);
    window.addEventListener('afterprint', set);
    return () => {
      observer.disconnect();
      window.removeEventListener('beforeprint', before);
      window.removeEventListener('afterprint', set);
    };
  }, []);
  return [place, width];
}

export function Hatch({ id }: { id: string }) {
  return (
    <pattern id={id} width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
      <line class="hatch-line" x1="0" y1="0" x2="0" y2="7" />
    </pattern>
  );
}

/** A hatched band with dashed edges, from x0 to x1. */
export function HatchedBand({ id, x0, x1, y0, y1 }: { id: string; x0: number; x1: number; y0: number; y1: number }) {
  return (
    <g>
      <rect x={x0} y={y0} width={Math.max(0, x1 - x0)} height={y1 - y0} fill={`url(#${id})`} />
      <path class="hatch-edge" d={`M${x0} ${y0}V${y1}M${x1} ${y0}V${y1}`} fill="none" />
    </g>
  );
}

export interface Dot {
  x: number;
  y: number;
  /** How far it lies from the fit; the worst of a bin is kept. */
  miss: number;
}

/** Evenly thinned dots, one a bin of `pitch` pixels, always the worst of the bin. */
export function thin(dots: Dot[], pitch: number): Dot[] {
  const bins = new Map<number, Dot>();
  for (const dot of dots) {
    const bin = Math.floor(dot.x / pitch);
    const held = bins.get(bin);
    if (!held || dot.miss > held.miss) bins.set(bin, dot);
  }
  return [...bins.values()].sort((a, b) => a.x - b.x);
}

export function Dots({ dots, r = 2 }: { dots: Dot[]; r?: number }) {
  return (
    <g class="measured">
      {dots.map((dot, i) => (
        <circle key={i} cx={dot.x.toFixed(1)} cy={dot.y.toFixed(1)} r={r} />
      ))}
    </g>
  );
}

export type KeyKind = 'measured' | 'fit' | 'fit_band' | 'phase' | 'envelope' | 'hatch';

export function Key({ items }: { items: [KeyKind, string][] }) {
  return (
    <ul class="key">
      {items.map(([kind, text]) => (
        <li key={kind}>
          <svg viewBox="0 0 34 14" aria-hidden="true" focusable="false">
            <Sample kind={kind} />
          </svg>
          {text}
        </li>
      ))}
    </ul>
  );
}

function Sample({ kind }: { kind: KeyKind }): ComponentChildren {
  switch (kind) {
    case 'measured':
      return [4, 17, 30].map((x) => <circle key={x} class="measured" cx={x} cy="7" r="2.2" />);
    case 'fit':
      return <path class="fit" d="M0 7H34" />;
    case 'fit_band':
      return [<rect key="b" class="band" x="0" y="0" width="34" height="14" />, <path key="l" class="fit" d="M0 7H34" />];
    case 'phase':
      return <path class="fit phase" d="M0 7H34" />;
    case 'envelope':
      return <path class="envelope" d="M0 7H34" />;
    case 'hatch':
      return <path class="hatch-line" d="M2 13L12 1M10 13L20 1M18 13L28 1M26 13L36 1" fill="none" />;
  }
}
