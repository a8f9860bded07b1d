// Stamp of a verdict: the shape tells, then the word. Clean, as it stands on paper.
import type { Verdict } from '../../core/types.gen';
import { papersWords as w } from '../../words/papers';

const COLOUR: Record<Verdict, string> = { pass: 'var(--pass)', fail: 'var(--fail)', not_proven: 'var(--not-proven)' };

/** In a lozenge the lines draw together. */
const SIZES: Record<Verdict, { word?: Place; what?: Place; date?: Place }> = { pass: {}, fail: {}, not_proven: { word: { y: 80, size: 15.5 }, what: { y: 56, size: 9.5 }, date: { y: 101, size: 9.5 } } };
interface Place {
  y: number;
  size: number;
}

const Line = ({ y, size, serif, text, colour }: Place & { serif?: boolean; text: string; colour: string }) => (
  <text x="75" y={y} text-anchor="middle" font-family={serif ? 'var(--serif)' : 'var(--sans)'} font-weight={serif ? 600 : 700} font-size={size} letter-spacing="0.5" fill={colour} stroke="none">
    {text}
  </text>
);

export function Stamp({ verdict, what, date }: { verdict: Verdict; what: string; date: string }) {
  const word = w.record.stamp[verdict];
  return (
    <svg class="stamp" viewBox="0 0 150 150" role="img" aria-label={w.record.stampOf(word, what)}>
      <g transform={`rotate(${verdict === 'fail' ? 5 : -7} 75 75)`} fill="none" stroke={COLOUR[verdict]}>
        <Frame verdict={verdict} />
        <Line y={84} size={29} serif {...SIZES[verdict].word} text={word} colour={COLOUR[verdict]} />
        <Line y={50} size={11} {...SIZES[verdict].what} text={what} colour={COLOUR[verdict]} />
        <Line y={112} size={11} {...SIZES[verdict].date} text={date} colour={COLOUR[verdict]} />
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
