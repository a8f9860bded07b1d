// Knock slots: found, now, to come, set aside (hatched).
import { useId } from 'preact/hooks';
import { words } from '../words/common';
import { fixed, NBSP } from './format';

export interface FoundKnock {
  /** The input it was heard by, where there are two. */
  input?: number;
  frequencyHz?: number;
  aside?: string;
  /** The ring as it was recorded, a few hundred samples; drawn as it is. */
  ring?: Float32Array;
}

export function Slots({ found, wanted, running }: { found: FoundKnock[]; wanted: number; running: boolean }) {
  const counted = found.filter((k) => !k.aside).length;
  const toCome = Math.max(0, wanted - counted);
  // A narrow screen holds seven: the oldest of a long row go first.
  const shown = found.slice(-Math.max(1, 7 - toCome));
  const first = found.length - shown.length;
  return (
    <ol class="slots" aria-label={words.slots.label}>
      {shown.map((knock, i) => (
        <Found key={first + i} number={first + i + 1} knock={knock} />
      ))}
      {Array.from({ length: toCome }, (_, i) => (
        <li key={`c${i}`} class={`slot ${i === 0 && running ? 'now' : 'to-come'}`}>
          <span class="no">{found.length + i + 1}</span>
          <span class="state">{i === 0 && running ? words.slots.now : words.slots.toCome}</span>
        </li>
      ))}
    </ol>
  );
}

function Found({ number, knock }: { number: number; knock: FoundKnock }) {
  const hatch = useId();
  return (
    <li class={`slot ${knock.aside ? 'aside' : 'found'}`}>
      {knock.aside && (
        <svg class="hatching" aria-hidden="true" focusable="false">
          <defs>
            <pattern id={hatch} width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
              <line x1="0" y1="0" x2="0" y2="7" stroke="var(--line)" stroke-width="1.5" />
            </pattern>
          </defs>
          <rect width="100%" height="100%" fill={`url(#${hatch})`} />
        </svg>
      )}
      <span class="no">{number}</span>
      {knock.input !== undefined && <span class="input">{words.slots.input(knock.input)}</span>}
      {knock.ring && <Ring samples={knock.ring} />}
      <span class="state">{knock.aside ? words.slots.aside : knock.frequencyHz ? `${fixed(knock.frequencyHz, 1)}${NBSP}Hz` : words.slots.found}</span>
    </li>
  );
}

function Ring({ samples }: { samples: Float32Array }) {
  const top = samples.reduce((most, s) => Math.max(most, Math.abs(s)), 1e-9);
  const path = Array.from(samples, (s, i) => `${i ? 'L' : 'M'}${((i / (samples.length - 1)) * 100).toFixed(1)} ${(20 - (s / top) * 18).toFixed(1)}`).join('');
  return (
    <svg viewBox="0 0 100 40" preserveAspectRatio="none" aria-hidden="true" focusable="false">
      <path d={path} />
    </svg>
  );
}
