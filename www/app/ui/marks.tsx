// Marks: the shape tells, then the word beside it, then the colour. Never shown without a word.
import type { ComponentChildren } from 'preact';

function Mark({ children, size = 24 }: { children: ComponentChildren; size?: number }) {
  return (
    <svg width={size} height={size} viewBox="0 0 24 24" aria-hidden="true" focusable="false">
      {children}
    </svg>
  );
}

const INK = { fill: 'none', stroke: 'var(--ink)', 'stroke-width': 2, 'stroke-linejoin': 'round', 'stroke-linecap': 'round' } as const;

export type MarkName = 'reading' | 'doubtful' | 'refused' | 'caution' | 'empty' | 'done' | 'failed' | 'next';

export function StateMark({ name, size }: { name: MarkName; size?: number }) {
  switch (name) {
    case 'reading':
      return (
        <Mark size={size}>
          <path d="M3 20.5H21M4 16V20M8 17.5V20M12 16V20M16 17.5V20M20 16V20" {...INK} stroke-width={1.6} />
          <path d="M4 12C7 12 7.5 4 10 4C13 4 13 13 20 9" {...INK} stroke-width={2.2} />
        </Mark>
      );
    case 'doubtful':
      return (
        <Mark size={size}>
          <path d="M12 1.500L22.5 12L12 22.500L1.5 12Z" {...INK} stroke="var(--not-proven)" />
          <path d="M9.2 9.600C9.2 6.3 14.8 6.3 14.8 9.600C14.8 11.8 12 11.9 12 14.2" {...INK} stroke="var(--not-proven)" />
          <circle cx="12" cy="17.3" r="1.2" fill="var(--not-proven)" />
        </Mark>
      );
    case 'refused':
      return (
        <Mark size={size}>
          <path d="M3 20V3H21V20L18 17L15 20L12 17L9 20L6 17Z" {...INK} stroke-width={2.2} />
          <path d="M8 9.500H16" {...INK} stroke-width={2.6} />
        </Mark>
      );
    case 'caution':
      return (
        <Mark size={size}>
          <path d="M12 2.500L22.5 21H1.500Z" {...INK} stroke-width={2.2} />
          <path d="M12 9V14.5" {...INK} stroke-width={2.4} />
          <circle cx="12" cy="17.8" r="1.3" fill="var(--ink)" />
        </Mark>
      );
    case 'done':
      return (
        <Mark size={size}>
          <circle cx="12" cy="12" r="11" fill="var(--pass)" />
          <path d="M6.5 12.500L10.5 16.300L17.5 8.2" fill="none" stroke="var(--paper)" stroke-width="2.8" />
        </Mark>
      );
    case 'failed':
      return (
        <Mark size={size}>
          <rect x="1" y="1" width="22" height="22" fill="var(--fail)" />
          <path d="M7 7L17 17M17 7L7 17" fill="none" stroke="var(--paper)" stroke-width="2.8" />
        </Mark>
      );
    case 'next':
      return (
        <Mark size={size}>
          <path d="M3 4H14L21.5 12L14 20H3Z" {...INK} fill="var(--yellow)" stroke-width={2.2} />
        </Mark>
      );
    case 'empty':
      return (
        <Mark size={size}>
          <rect x="4" y="4" width="16" height="16" {...INK} stroke="var(--edge)" />
        </Mark>
      );
  }
}

/** Our sign: a cone seen in section, its cap yellow. */
export function Sign({ size = 40 }: { size?: number }) {
  return (
    <svg width={size} height={size * 0.8} viewBox="0 0 40 32" aria-hidden="true" focusable="false">
      <path d="M1 4H39M5 4L13.5 27H26.500L35 4" fill="none" stroke="var(--ink)" stroke-width="3" stroke-linejoin="round" />
      <path d="M13.2 18C15.5 11 24.5 11 26.8 18Z" fill="var(--yellow)" stroke="var(--ink)" stroke-width="2.2" stroke-linejoin="round" />
    </svg>
  );
}

export function BackArrow() {
  return (
    <svg width="22" height="22" viewBox="0 0 22 22" aria-hidden="true" focusable="false">
      <path d="M14 3L6 11L14 19" fill="none" stroke="var(--ink)" stroke-width="4" />
    </svg>
  );
}

/** The ticket of a refusal, large, its foot torn. */
export function RefusedTicket({ word, under }: { word: string; under: string }) {
  return (
    <svg viewBox="0 0 180 120" width="180" height="120" aria-hidden="true" focusable="false" class="ticket">
      <path
        d="M4 4H176V104L166 94L154 106L142 94L130 106L118 94L106 106L94 94L82 106L70 94L58 106L46 94L34 106L22 94L12 106L4 98Z"
        fill="none"
        stroke="var(--ink)"
        stroke-width="3.5"
        stroke-linejoin="round"
      />
      <text x="90" y="52" text-anchor="middle" font-family="var(--serif)" font-weight="600" font-size="27" letter-spacing="1" fill="var(--ink)">
        {word}
      </text>
      <text x="90" y="78" text-anchor="middle" font-family="var(--sans)" font-weight="700" font-size="14" fill="var(--ink)">
        {under}
      </text>
    </svg>
  );
}
