// Stamp of a verdict: the shape tells, then the word. Clean, as it stands on paper.
import type { Verdict } from '../../core/types.gen';
import { papersWords as w } from '../../words/papers';

const COLOUR: Record<Verdict, string> = { pass: 'var(--pass)', fail: 'var(--fail)', not_proven: 'var(--not-proven)' };

export function Stamp({ verdict, what, date }: { verdict: Verdict; what: string; date: string }) {
  const word = w.record.stamp[verdict];
  return (
    <svg class="stamp" viewBox="0 0 150 150" role="img" aria-label={w.record.stampOf(word, what)}>
      <g transform={`rotate(${verdict === 'fail' ? 5 : -7} 75 75)`} fill="none" stroke={COLOUR[verdict]}>
        <Frame verdict={verdict} />
        <text x="75" y={verdict === 'pass' ? 85 : 84} text-anchor="middle" font-family="var(--serif)" font-weight="600" font-size={verdict === 'not_proven' ? 17 : 29} letter-spacing="1" fill={COLOUR[verdict]} stroke="none">
          {word}
        </text>
        <text x="75" y="50" text-anchor="middle" font-family="var(--sans)" font-weight="700" font-size="11" letter-spacing="0.5" fill={COLOUR[verdict]} stroke="none">
          {what}
        </text>
        <text x="75" y="112" text-anchor="middle" font-family="var(--sans)" font-weight="700" font-size="11" letter-spacing="0.5" fill={COLOUR[verdict]} stroke="none">
          {date}
        </text>
      </g>
    </svg>
  );
}

function Frame({ verdict }: { verdict: Verdict }) {
  switch (verdict) {
    case 'pass':
      return (
        <>
          <circle cx="75" cy="75" r="71" stroke-width="4" />
          <circle cx="75" cy="75" r="64" stroke-width="1.6" />
          <path d="M12 60H138M12 95H138" stroke-width="2" />
        </>
      );
    case 'fail':
      return (
        <>
          <rect x="6" y="25" width="138" height="100" stroke-width="4" />
          <rect x="13" y="32" width="124" height="86" stroke-width="1.6" />
          <path d="M13 58H137M13 95H137" stroke-width="1.6" />
        </>
      );
    case 'not_proven':
      return <path d="M75 4L146 75L75 146L4 75Z" stroke-width="3.4" stroke-dasharray="10 5" stroke-linejoin="round" />;
  }
}
