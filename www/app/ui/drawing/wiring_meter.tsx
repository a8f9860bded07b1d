// By meter: output, known resistor and driver in a row; one meter, held across one pair and then across the other.
import type { Drawing } from '../../core/types.gen';
import { drawingWords } from '../../words/drawings';
import { SmallDriver } from './driver';
import { Box, Resistor, Sketch, Words } from './pen';

export function MeterDrawing({ drawing }: { drawing: Drawing }) {
  const label = (place: string) => drawing.labels[place] ?? '';
  const said = [drawingWords[drawing.kind], ...Object.values(drawing.labels)].join('. ');
  return (
    <Sketch label={said} most={640}>
      {(width, narrow) => {
        const [box, top, bottom] = [narrow ? 92 : 150, 120, 246];
        const node = width - (narrow ? 112 : 190);
        const resistor = (box + node) / 2;
        const second = label('second_volts').includes('driver') ? [box + 18, node] : [resistor - 46, resistor + 46];
        return {
          height: 294,
          body: (
            <>
              <Box x={2} y={top - 34} w={box - 2} h={bottom - top + 62} />
              <Words x={(box + 2) / 2} y={(top + bottom) / 2} text={label('output')} anchor="middle" most={narrow ? 10 : 16} />
              <path class="wire" d={`M${box} ${top}H${resistor - 24}M${resistor + 24} ${top}H${node}V${top + 34}M${node} ${bottom - 34}V${bottom}H${box}`} />
              <circle class="solid" cx={box} cy={top} r="4.5" />
              <circle class="solid" cx={box} cy={bottom} r="4.5" />
              <Resistor x={resistor} y={top} />
              <Words x={resistor} y={top + 38} text={label('resistor')} anchor="middle" cls="value" />
              <SmallDriver x={node - 34} y={top + 36} />
              <Across from={[second[0] ?? 0, top]} to={[second[1] ?? 0, top]} at={[((second[0] ?? 0) + (second[1] ?? 0)) / 2, 58]} mark="2" />
              <Words x={((second[0] ?? 0) + (second[1] ?? 0)) / 2} y={26} text={label('second_volts')} anchor="middle" most={40} />
              <Across from={[node, top]} to={[node, bottom]} at={[node + (narrow ? 52 : 62), (top + bottom) / 2]} mark="1" />
              <Words x={narrow ? node + 100 : node + 62} y={bottom + 24} text={label('first_volts')} anchor={narrow ? 'end' : 'middle'} most={16} />
            </>
          ),
        };
      }}
    </Sketch>
  );
}

/** A meter with its two leads; the number says which pair comes first. */
function Across({ from, to, at, mark }: { from: [number, number]; to: [number, number]; at: [number, number]; mark: string }) {
  const upright = from[0] === to[0];
  const lead = ([x, y]: [number, number], side: number) => (upright ? `M${x} ${y}H${at[0]}V${at[1] + side * 18}` : `M${x} ${y}V${at[1]}H${at[0] + side * 18}`);
  return (
    <g>
      <path class="wire second" d={`${lead(from, -1)}${lead(to, 1)}`} />
      <circle class="ln fill" cx={at[0]} cy={at[1]} r="18" />
      <text x={at[0]} y={at[1] + 5} text-anchor="middle">
        {`V${mark}`}
      </text>
    </g>
  );
}
