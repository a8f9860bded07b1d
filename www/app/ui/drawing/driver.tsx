// A driver in section, magnet down. Origin: left end of the frame's rim; 297 wide, 161 high to the ground at scale 1.
import { Cut } from './pen';

export const DRIVER_WIDTH = 297;
export const DRIVER_HEIGHT = 161;

export function DriverSection({ x, y, scale = 1, cloth = true }: { x: number; y: number; scale?: number; cloth?: boolean }) {
  return (
    <g transform={`translate(${x} ${y}) scale(${scale})`}>
      <path class="ln" d="M-2 12H26M-2 20H26M0 10V22M271 12H299M271 20H299M297 10V22" />
      <path class="ln" d="M18 17A11 11 0 0 1 40 17M257 17A11 11 0 0 1 279 17" />
      <path class="ln" d="M25 21L96 99M272 21L201 99" />
      <path class="ln bold" d="M39 17Q88 48 134 82M258 17Q209 48 163 82" />
      <path class="ln" d="M118 69Q148 34 179 69" />
      <path class="ln" d="M87 88q4.5 -8 9 0t9 0t9 0t9 0l9 -5M210 88q-4.5 -8 -9 0t-9 0t-9 0t-9 0l-9 -5" />
      <path class="ln" d="M133 82V128M164 82V128" />
      <path class="ln bold" d="M132 102V122M165 102V122" stroke-dasharray="3 2" />
      <path class="ln" d="M93 98H131M93 107H131M95 96V109M166 98H204M166 107H204M202 96V109" />
      <Cut x={101} y={107} w={27} h={38} />
      <Cut x={169} y={107} w={27} h={38} />
      <path class="ln" d="M137 97H160M137 97V145M160 97V145" />
      <path class="ln" d="M93 145H204M93 153H204M95 143V155M202 143V155" />
      {cloth && <Cloth />}
    </g>
  );
}

function Cloth() {
  const strokes = Array.from({ length: 21 }, (_, i) => `M${66 + i * 8} 160l6 -5`).join('');
  return (
    <g>
      <path class="ln" d="M56 161Q58 153 70 153H93M204 153H227Q239 153 241 161" />
      <path class="cut-metal" d={strokes} fill="none" />
    </g>
  );
}

/** The driver as a small sign, for plates and jigs; 68 wide, 36 high, its plus terminal at the right. */
export function SmallDriver({ x, y, scale = 1 }: { x: number; y: number; scale?: number }) {
  return (
    <g transform={`translate(${x} ${y}) scale(${scale})`}>
      <path class="ln bold" d="M4 2L27 20M64 2L41 20" stroke-width="2.6" />
      <path class="ln" d="M-1 2H9M59 2H69" />
      <path class="ln" d="M24 17Q34 5 44 17M4 5L25 26M64 5L43 26" />
      <rect class="solid" x="24" y="22" width="20" height="14" />
    </g>
  );
}

/** A pencil held over the cone, its rubber end down. */
export function Pencil({ x, y, scale = 1 }: { x: number; y: number; scale?: number }) {
  return (
    <g transform={`translate(${x} ${y}) scale(${scale}) rotate(31)`}>
      <rect class="held" x="-7" y="-108" width="14" height="86" stroke-width="1.8" />
      <rect class="solid" x="-7" y="-22" width="14" height="8" />
      <path class="ln fill" d="M-7 -14V-5Q-7 1 0 1Q7 1 7 -5V-14Z" />
      <path class="ln" d="M13 -6l10 -3M15 3l12 4" />
    </g>
  );
}

/** A phone leaning against the rim, listening. */
export function Phone({ x, y, scale = 1 }: { x: number; y: number; scale?: number }) {
  return (
    <g transform={`translate(${x} ${y}) scale(${scale}) rotate(12)`}>
      <rect class="ln fill" x="0" y="-128" width="66" height="128" rx="9" />
      <rect class="held" x="8" y="-110" width="50" height="88" stroke-width="1.8" />
      <circle class="ln" cx="33" cy="-11" r="5" />
      <path class="ln" d="M24 -119H42" />
    </g>
  );
}
