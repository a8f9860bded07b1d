// The pen of all drawings: ink lines whose corners overshoot a little, cut metal hatched, words beside a leader.
import type { ComponentChildren } from 'preact';
import { useWidth } from '../plot/frame';

const OVER = 1.6;

/** A box drawn by hand: four lines, each running past its corners. */
export function boxPath(x: number, y: number, w: number, h: number): string {
  const o = OVER;
  return `M${x - o} ${y}H${x + w + o}M${x + w} ${y - o}V${y + h + o}M${x + w + o} ${y + h}H${x - o}M${x} ${y + h + o}V${y - o}`;
}

export function Box({ x, y, w, h, cls = '' }: { x: number; y: number; w: number; h: number; cls?: string }) {
  return (
    <g>
      <rect class="fill" x={x} y={y} width={w} height={h} />
      <path class={`ln ${cls}`} d={boxPath(x, y, w, h)} />
    </g>
  );
}

/** Cut metal: 45° strokes inside a box. */
export function Cut({ x, y, w, h }: { x: number; y: number; w: number; h: number }) {
  const strokes: string[] = [];
  for (let d = 5; d < w + h; d += 6) {
    const x0 = x + Math.max(0, d - h);
    const y0 = y + Math.min(d, h);
    const x1 = x + Math.min(d, w);
    const y1 = y + Math.max(0, d - w);
    strokes.push(`M${x0} ${y0}L${x1} ${y1}`);
  }
  return (
    <g>
      <rect class="fill" x={x} y={y} width={w} height={h} />
      <path class="cut-metal" d={strokes.join('')} fill="none" />
      <path class="ln" d={boxPath(x, y, w, h)} />
    </g>
  );
}

/** Breaks words into lines of at most `most` letters. */
export function lines(text: string, most: number): string[] {
  const out: string[] = [];
  for (const word of text.split(/ +/)) {
    const last = out[out.length - 1];
    if (last !== undefined && (last + ' ' + word).length <= most) out[out.length - 1] = `${last} ${word}`;
    else out.push(word);
  }
  return out;
}

export function Words({ x, y, text, most = 24, anchor = 'start', cls = '' }: { x: number; y: number; text: string; most?: number; anchor?: 'start' | 'middle' | 'end'; cls?: string }) {
  return (
    <text x={x} y={y} text-anchor={anchor} class={cls}>
      {lines(text, most).map((part, i) => (
        <tspan key={i} x={x} dy={i === 0 ? 0 : 20}>
          {part}
        </tspan>
      ))}
    </text>
  );
}

/** A resistor as it lies on the bench: what the hand fits is yellow. */
export function Resistor({ x, y, turned }: { x: number; y: number; turned?: boolean }) {
  return (
    <g transform={`translate(${x} ${y})${turned ? ' rotate(90)' : ''}`}>
      <rect class="held" x="-24" y="-11" width="48" height="22" rx="3" stroke-width="1.8" />
      <path class="held-ln" d="M-12 -11V11M-4 -11V11M4 -11V11" />
    </g>
  );
}

/** A drawing that is laid out for the width it gets, so that its words keep their size. */
export function Sketch({ label, most, children }: { label: string; most: number; children: (width: number, narrow: boolean) => { height: number; body: ComponentChildren } }) {
  const [place, width] = useWidth();
  const w = Math.min(width, most);
  const laid = width > 0 ? children(w, w < 480) : undefined;
  return (
    <div ref={place}>
      {laid && (
        <svg class="drawing" viewBox={`0 0 ${w} ${laid.height}`} style={{ maxWidth: `${w}px` }} role="img" aria-label={label}>
          {laid.body}
        </svg>
      )}
    </div>
  );
}
