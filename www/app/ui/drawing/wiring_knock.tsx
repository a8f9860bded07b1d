// How the knock is listened to: cable, headset cable or microphone; with a load, or with a weight on the cone.
import type { Drawing } from '../../core/types.gen';
import { drawingWords } from '../../words/drawings';
import { DriverSection, Pencil, Phone } from './driver';
import { Box, Cut, Resistor, Sketch, Words } from './pen';

export function KnockDrawing({ drawing, sensor }: { drawing: Drawing; sensor: 'coil' | 'microphone' }) {
  const label = (place: string) => drawing.labels[place];
  const byMicrophone = ['microphone', 'driven_microphone'].includes(drawing.kind) || (sensor === 'microphone' && !label('input'));
  const said = [drawingWords[drawing.kind], ...Object.values(drawing.labels)].join('. ');
  return (
    <Sketch label={said} most={560}>
      {(width, narrow) => {
        const scale = narrow ? 0.62 : 0.92;
        const x = narrow ? 4 : 12;
        const y = narrow ? 72 : 92;
        const at = { scale, x, y, ground: y + 161 * scale, right: x + 297 * scale, width, narrow };
        const load = label('load');
        return {
          height: at.ground + (label('rest') ? 28 : 10),
          body: (
            <>
              <path class="ln" d={`M0 ${at.ground}H${width}`} />
              {label('box') && <ClosedBox at={at} text={label('box') ?? ''} />}
              <DriverSection x={x} y={y} scale={scale} cloth={!label('box')} />
              {byMicrophone ? <Listening at={at} text={label('microphone')} /> : <Cable at={at} labels={drawing.labels} />}
              {load && <Load at={at} text={load} />}
              {label('weight') && <Weight at={at} text={label('weight') ?? ''} />}
              <Knocking at={at} text={label('knock')} />
              {label('rest') && <Words x={0} y={at.ground + 21} text={label('rest') ?? ''} most={60} />}
            </>
          ),
        };
      }}
    </Sketch>
  );
}

interface At {
  scale: number;
  x: number;
  y: number;
  ground: number;
  right: number;
  width: number;
  narrow: boolean;
}

function Knocking({ at, text }: { at: At; text?: string }) {
  if (!text) return null;
  const tip: [number, number] = [at.x + 70 * at.scale, at.y + 30 * at.scale];
  const tx = at.narrow ? 150 : 230;
  return (
    <g>
      <Pencil x={tip[0]} y={tip[1]} scale={at.scale} />
      <path class="ln thin" d={`M${tip[0] + 34 * at.scale} ${tip[1] - 46 * at.scale}L${tx - 6} ${at.narrow ? 14 : 22}`} />
      <Words x={tx} y={at.narrow ? 16 : 24} text={text} most={at.narrow ? 25 : 30} />
    </g>
  );
}

function Cable({ at, labels }: { at: At; labels: Record<string, string | undefined> }) {
  const { scale } = at;
  const tx = at.right - 42 * scale;
  const ty = at.y + 62 * scale;
  const plug = { x: at.right + (at.narrow ? 22 : 46), y: at.ground - 26 };
  const box = { x: plug.x + 44, w: Math.max(60, Math.min(130, at.width - plug.x - 46)) };
  const parts = [labels['series_resistor'], labels['series_capacitor']].filter(Boolean);
  return (
    <g>
      <Box x={tx - 5} y={ty - 6} w={11} h={13} />
      <path class="wire" d={`M${tx + 6} ${ty - 2}C${tx + 40} ${ty - 6} ${tx + 10} ${plug.y - 2} ${plug.x} ${plug.y - 2}`} />
      <path class="wire second" d={`M${tx + 6} ${ty + 4}C${tx + 26} ${ty + 4} ${tx - 2} ${plug.y + 4} ${plug.x} ${plug.y + 3}`} />
      <Box x={plug.x} y={plug.y - 7} w={22} h={14} />
      <path class="ln" d={`M${plug.x + 22} ${plug.y - 3}H${box.x}M${plug.x + 22} ${plug.y + 3}H${box.x}M${plug.x + 30} ${plug.y - 3}V${plug.y + 3}`} />
      <Box x={box.x} y={plug.y - 18} w={box.w} h={at.ground - plug.y + 18} />
      <circle class="ln" cx={box.x + 9} cy={plug.y} r="5" />
      <Words x={box.x + 20} y={plug.y + 5} text={shortened(labels['input'] ?? '', box.w)} most={40} />
      {labels['terminals'] && (
        <g>
          <path class="ln thin" d={`M${tx + 10} ${ty - 6}L${tx + 30} ${ty - 16}`} />
          <Words x={tx + 34} y={ty - 18} text={labels['terminals']} most={at.narrow ? 20 : 28} />
        </g>
      )}
      {parts.length > 0 && <SeriesParts x={plug.x - 14} y={plug.y - 40} text={parts.join(' and ')} narrow={at.narrow} />}
    </g>
  );
}

/** What does not fit into the box is told by the step's note as well. */
function shortened(text: string, width: number): string {
  const most = Math.floor((width - 24) / 8.2);
  return text.length <= most ? text : text.replace(/\s*\(.*\)/, '').slice(0, most);
}

function SeriesParts({ x, y, text, narrow }: { x: number; y: number; text: string; narrow: boolean }) {
  return (
    <g>
      <g transform={`translate(${x} ${y + 22}) rotate(70) scale(0.6)`}>
        <Resistor x={0} y={0} />
      </g>
      <Words x={x + 16} y={y + 6} text={text} most={narrow ? 16 : 24} />
    </g>
  );
}

function Load({ at, text }: { at: At; text: string }) {
  const tx = at.right - 42 * at.scale;
  const ty = at.y + 62 * at.scale;
  return (
    <g>
      <path class="ln" d={`M${tx - 4} ${ty + 7}V${ty + 16}M${tx - 4} ${ty + 48}C${tx - 2} ${ty + 62} ${tx + 12} ${ty + 56} ${tx + 10} ${ty + 42}V${ty + 16}L${tx + 3} ${ty + 7}`} />
      <g transform={`translate(${tx - 4} ${ty + 32}) rotate(90) scale(0.7)`}>
        <Resistor x={0} y={0} />
      </g>
      <text class="value" x={at.narrow ? tx + 16 : tx - 36} y={at.narrow ? ty + 44 : ty + 76}>
        {text}
      </text>
    </g>
  );
}

function Weight({ at, text }: { at: At; text: string }) {
  const cx = at.x + 148 * at.scale;
  const cy = at.y + 50 * at.scale;
  return (
    <g>
      <rect class="held" x={cx - 46 * at.scale} y={cy - 8} width={24 * at.scale} height={16} />
      <rect class="held" x={cx + 22 * at.scale} y={cy - 8} width={24 * at.scale} height={16} />
      <path class="ln thin" d={`M${cx + 34 * at.scale} ${cy - 10}L${cx + 20} ${at.y - 14}`} />
      <text class="value" x={cx + 8} y={at.y - 18}>
        {text}
      </text>
    </g>
  );
}

/** The cone looks out of the lid; the walls stand around the magnet. */
function ClosedBox({ at, text }: { at: At; text: string }) {
  const wall = 9 * at.scale;
  const lid = at.y + 16 * at.scale;
  const right = at.right;
  return (
    <g>
      <Cut x={at.x} y={lid} w={wall} h={at.ground - lid} />
      <Cut x={right - wall} y={lid} w={wall} h={at.ground - lid} />
      <Cut x={at.x + wall} y={at.ground - wall} w={right - at.x - 2 * wall} h={wall} />
      <text class="value" x={at.x + wall + 8} y={at.ground - wall - 10}>
        {text}
      </text>
    </g>
  );
}

function Listening({ at, text }: { at: At; text?: string }) {
  const x = at.right - 30 * at.scale;
  const y = at.y + 6;
  return (
    <g>
      <g transform={`translate(${x} ${y}) rotate(38)`}>
        <Phone x={0} y={0} scale={at.narrow ? 0.5 : 0.72} />
      </g>
      <path class="ln" d={`M${x - 22} ${y + 14}q-10 -4 -9 -16M${x - 32} ${y + 18}q-14 -8 -11 -26`} />
      {text && (
        <g>
          <path class="ln thin" d={`M${x + 20} ${y - 4}L${x + 44} ${y + 44}`} />
          <Words x={Math.min(x + 40, at.width - 150)} y={y + 62} text={text} most={at.narrow ? 17 : 26} />
        </g>
      )}
    </g>
  );
}
