// A cell through a divider into the input: plus over the larger resistor to the tip, the smaller one from tip to sleeve.
import type { Drawing } from '../../core/types.gen';
import { drawingWords } from '../../words/drawings';
import { Box, Resistor, Sketch, Words } from './pen';

export function CellDrawing({ drawing }: { drawing: Drawing }) {
  const label = (place: string) => drawing.labels[place] ?? '';
  const said = [drawingWords[drawing.kind], ...Object.values(drawing.labels)].join('. ');
  return (
    <Sketch label={said} most={560}>
      {(width, narrow) => {
        const [top, bottom, cell] = [70, 176, 34];
        const box = width - (narrow ? 96 : 150);
        const shunt = box - (narrow ? 34 : 56);
        const gap = shunt - (narrow ? 24 : 40);
        const series = (cell + gap) / 2;
        const middle = (top + bottom) / 2;
        return {
          height: 214,
          body: (
            <>
              <path class="wire" d={`M${cell} ${middle - 8}V${top}H${series - 24}M${series + 24} ${top}H${gap - 14}`} />
              <path class="wire second" d={`M${cell} ${middle + 8}V${bottom}H${box}`} />
              <path class="ln bold" d={`M${cell - 20} ${middle - 6}H${cell + 20}`} />
              <path class="ln bold" d={`M${cell - 10} ${middle + 6}H${cell + 10}`} stroke-width="5" />
              <Words x={cell + 26} y={middle - 12} text="+" />
              <Words x={cell + 26} y={middle + 12} text={label('cell')} cls="value" />
              <Resistor x={series} y={top} />
              <Words x={series} y={top + 34} text={label('series')} anchor="middle" cls="value" />
              <path class="ln" d={`M${gap - 14} ${top}l14 -10`} />
              <circle class="solid" cx={gap + 4} cy={top} r="4.5" />
              <Words x={gap} y={top - 34} text={label('touch')} anchor="middle" most={22} />
              <path class="ln thin" d={`M${gap} ${top - 28}V${top - 14}`} />
              <path class="wire" d={`M${gap + 4} ${top}H${box}M${shunt} ${top}V${middle - 24}M${shunt} ${middle + 24}V${bottom}`} />
              <Resistor x={shunt} y={middle} turned />
              <Words x={shunt - 18} y={middle + 5} text={label('shunt')} anchor="end" cls="value" />
              <Box x={box} y={top - 26} w={width - box - 4} h={bottom - top + 52} />
              <Words x={box + 8} y={middle - 4} text={label('input')} most={narrow ? 9 : 14} />
            </>
          ),
        };
      }}
    </Sketch>
  );
}
