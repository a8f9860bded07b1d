// Two drivers, a cable from each to an input of its own; a resistor across one of them where there is one.
import type { Drawing } from '../../core/types.gen';
import { drawingWords } from '../../words/drawings';
import { DRIVER_HEIGHT, DRIVER_WIDTH, DriverSection, Pencil } from './driver';
import { Box, Resistor, Sketch, Words } from './pen';

export function PairDrawing({ drawing }: { drawing: Drawing }) {
  const label = (place: string) => drawing.labels[place] ?? '';
  const said = [drawingWords[drawing.kind], ...Object.values(drawing.labels)].join('. ');
  return (
    <Sketch label={said} most={620}>
      {(width, narrow) => {
        const scale = narrow ? Math.min(0.5, (width - 20) / (2 * DRIVER_WIDTH)) : 0.74;
        const wide = DRIVER_WIDTH * scale;
        const top = narrow ? 168 : 150;
        const ground = top + DRIVER_HEIGHT * scale;
        const places = [2, width - wide - 2];
        const box = { x: width / 2 - (narrow ? 64 : 90), y: 12, w: narrow ? 128 : 180, h: 66 };
        const sockets = [box.x + box.w * 0.25, box.x + box.w * 0.75];
        return {
          height: ground + 30,
          body: (
            <>
              <path class="ln" d={`M0 ${ground}H${width}`} />
              <Box x={box.x} y={box.y} w={box.w} h={box.h} />
              {sockets.map((x, d) => (
                <g key={x}>
                  <Words x={x} y={box.y + 24} text={label(d === 0 ? 'first_input' : 'second_input').replace(/\s*\(.*\)/, '')} anchor="middle" most={12} />
                  <circle class="ln" cx={x} cy={box.y + 46} r="8" />
                  <circle class="solid" cx={x} cy={box.y + 46} r="3" />
                </g>
              ))}
              {places.map((x, d) => {
                // Terminals face each other, so that no cable crosses a cone.
                const at: Point = [d === 0 ? x + wide - 42 * scale : x + 42 * scale, top + 62 * scale];
                return (
                  <g key={d}>
                    <DriverSection x={x} y={top} scale={scale} />
                    <Cable from={at} to={[sockets[d] ?? 0, box.y + 54]} side={d === 0 ? 1 : -1} />
                    <Load at={at} text={label(d === 0 ? 'first_load' : 'second_load')} side={d === 0 ? 1 : -1} narrow={narrow} />
                  </g>
                );
              })}
              <Pencil x={(places[0] ?? 0) + 70 * scale} y={top + 30 * scale} scale={scale} />
              <Words x={0} y={16} text={label('knock')} most={narrow ? 11 : 20} />
              <Words x={0} y={ground + 22} text={label('rest')} most={60} />
            </>
          ),
        };
      }}
    </Sketch>
  );
}

type Point = [number, number];

function Cable({ from: [x, y], to: [sx, sy], side }: { from: Point; to: Point; side: number }) {
  return (
    <g>
      <Box x={x - 5} y={y - 6} w={11} h={13} />
      <path class="wire" d={`M${x + 6 * side} ${y - 2}C${x + 34 * side} ${y - 6} ${sx} ${sy + 60} ${sx - 2} ${sy}`} />
      <path class="wire second" d={`M${x + 6 * side} ${y + 4}C${x + 42 * side} ${y + 2} ${sx + 5} ${sy + 60} ${sx + 3} ${sy}`} />
    </g>
  );
}

function Load({ at: [x, y], text, side, narrow }: { at: Point; text: string; side: number; narrow: boolean }) {
  if (!text) return null;
  const size = narrow ? 0.5 : 0.66;
  const low = y + 14 + 48 * size;
  return (
    <g>
      <path class="ln" d={`M${x - 4 * side} ${y + 7}V${y + 14}M${x + 4 * side} ${y + 7}C${x + 16 * side} ${y + 12} ${x + 16 * side} ${low + 2} ${x - 4 * side} ${low}`} />
      <g transform={`translate(${x - 4 * side} ${y + 14 + 24 * size}) rotate(90) scale(${size})`}>
        <Resistor x={0} y={0} />
      </g>
      <text class="value" x={x + 20 * side} y={low - 6} text-anchor={side > 0 ? 'start' : 'end'}>
        {text}
      </text>
    </g>
  );
}
