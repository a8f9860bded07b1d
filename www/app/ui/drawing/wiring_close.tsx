// Amplifier and driver, a microphone before the cone; the resistor in series, across the output, or not in the way.
import type { Drawing } from '../../core/types.gen';
import { drawingWords } from '../../words/drawings';
import { DriverSection, Phone } from './driver';
import { Box, Resistor, Sketch, Words } from './pen';

export function CloseDrawing({ drawing }: { drawing: Drawing }) {
  const label = (place: string) => drawing.labels[place] ?? '';
  const said = [drawingWords[drawing.kind], ...Object.values(drawing.labels)].join('. ');
  return (
    <Sketch label={said} most={640}>
      {(width, narrow) => {
        const g = geometry(width, narrow);
        return {
          height: g.ground + 12,
          body: (
            <>
              <path class="ln" d={`M0 ${g.ground}H${width}`} />
              <Box x={2} y={g.plus - 34} w={g.box - 2} h={g.ground - g.plus + 34} />
              <Words x={14} y={g.plus - 10} text={label('output')} />
              <circle class="ln fill" cx={g.box} cy={g.plus} r="7" />
              <circle class="ln fill" cx={g.box} cy={g.minus} r="6" />
              <Words x={g.box - 14} y={g.minus + 5} text={drawingWords.minus} anchor="end" />
              <DriverSection x={g.driver} y={g.rim} scale={g.scale} />
              <Wires g={g} kind={drawing.kind} ohm={label('resistor')} />
              <Microphone g={g} text={label('microphone')} />
            </>
          ),
        };
      }}
    </Sketch>
  );
}

interface Geometry {
  box: number;
  plus: number;
  minus: number;
  driver: number;
  rim: number;
  scale: number;
  ground: number;
  narrow: boolean;
  width: number;
}

function geometry(width: number, narrow: boolean): Geometry {
  const scale = narrow ? 0.5 : 0.85;
  const rim = narrow ? 118 : 112;
  const ground = rim + 161 * scale + (narrow ? 20 : 0);
  return { box: narrow ? 92 : 140, plus: ground - (narrow ? 78 : 84), minus: ground - 26, driver: width - 297 * scale - (narrow ? 4 : 16), rim: rim + (narrow ? 20 : 0), scale, ground, narrow, width };
}

/** Where the leads meet the driver: at the left of its frame. */
function Wires({ g, kind, ohm }: { g: Geometry; kind: Drawing['kind']; ohm: string }) {
  const end = g.driver + 64 * g.scale;
  const [plusEnd, minusEnd] = [g.rim + 66 * g.scale, g.rim + 78 * g.scale];
  const middle = (g.box + g.driver) / 2 + (g.narrow ? 6 : 0);
  const across = kind === 'close_loaded';
  return (
    <g>
      <path class="wire" d={`M${g.box} ${g.plus}H${g.driver - 8}Q${g.driver + 8} ${g.plus} ${g.driver + 14} ${(g.plus + plusEnd) / 2}T${end} ${plusEnd}`} />
      <path class="wire second" d={`M${g.box} ${g.minus}H${g.driver}Q${g.driver + 18} ${g.minus} ${g.driver + 22} ${(g.minus + minusEnd) / 2}T${end + 6} ${minusEnd}`} />
      {kind === 'close_with' && <Resistor x={middle} y={g.plus} />}
      {across && (
        <g>
          <path class="wire" d={`M${middle} ${g.plus}V${g.minus}`} />
          <circle class="solid" cx={middle} cy={g.plus} r="4.5" />
          <circle class="solid" cx={middle} cy={g.minus} r="4.5" />
          <g transform={`translate(${middle} ${(g.plus + g.minus) / 2}) scale(0.8)`}>
            <Resistor x={0} y={0} turned />
          </g>
        </g>
      )}
      {ohm && <Words x={middle} y={g.plus - 20} text={ohm} anchor="middle" cls="value" />}
    </g>
  );
}

/** A phone whose lower end, where its microphone is, stands before the middle of the cone. */
function Microphone({ g, text }: { g: Geometry; text: string }) {
  const x = g.driver + 148 * g.scale;
  const y = g.rim + 14 * g.scale;
  const scale = g.narrow ? 0.5 : 0.62;
  return (
    <g>
      <g transform={`translate(${x - 33 * scale} ${y}) rotate(-12)`}>
        <Phone x={0} y={0} scale={scale} />
      </g>
      <path class="ln" d={`M${x - 10} ${y + 8}q10 6 20 0M${x - 16} ${y + 14}q16 9 32 0`} />
      <Words x={g.narrow ? 2 : x - 60} y={g.narrow ? 18 : 30} text={text} {...(g.narrow ? { most: 24 } : { anchor: 'end' as const, most: 18 })} />
    </g>
  );
}
