// The jig: output, known resistor, driver; two inputs watch. With the calibrations as variants of the same drawing.
import type { Drawing } from '../../core/types.gen';
import { drawingWords } from '../../words/drawings';
import { DriverSection, SmallDriver } from './driver';
import { Box, lines, Resistor, Sketch, Words } from './pen';

export function DividerDrawing({ drawing }: { drawing: Drawing }) {
  const label = (place: string) => drawing.labels[place] ?? '';
  const said = [drawingWords[drawing.kind], ...Object.values(drawing.labels)].join('. ');
  return (
    <Sketch label={said} most={720}>
      {(width, narrow) => {
        const g = geometry(width, narrow);
        return {
          height: g.height,
          body: (
            <>
              <Device g={g} output={label('output')} source={label('source_input')} driver={label('driver_input')} />
              <Wires g={g} kind={drawing.kind} />
              <Resistor x={g.resistor} y={g.top} />
              <Words x={g.resistor} y={g.top - 20} text={label('resistor')} anchor="middle" cls="value" />
              <Load g={g} kind={drawing.kind} known={label('known_resistor')} />
              <Words x={g.box + 12} y={g.bottom + 24} text={label('ground')} most={40} />
            </>
          ),
        };
      }}
    </Sketch>
  );
}

interface Geometry {
  width: number;
  narrow: boolean;
  height: number;
  /** Width of the device's box. */
  box: number;
  top: number;
  source: number;
  driverIn: number;
  bottom: number;
  resistor: number;
  /** Where the driver's plus node is. */
  node: number;
  /** Where the source side is tapped. */
  tap: number;
}

function geometry(width: number, narrow: boolean): Geometry {
  const box = narrow ? 116 : 176;
  const node = width - (narrow ? 44 : 130);
  const tap = box + (narrow ? 26 : 50);
  return { width, narrow, height: 292, box, top: 56, source: 122, driverIn: 182, bottom: 246, resistor: (tap + node) / 2 + (narrow ? 8 : 0), node, tap };
}

function Socket({ g, y, text }: { g: Geometry; y: number; text: string }) {
  const parts = lines(text, g.narrow ? 11 : 17);
  return (
    <g>
      <circle class="ln fill" cx={g.box} cy={y} r="9" />
      <circle class="solid" cx={g.box} cy={y} r="3" />
      <text x={g.box - 16} y={y + 5 - (parts.length - 1) * 9} text-anchor="end">
        {parts.map((part, i) => (
          <tspan key={i} x={g.box - 16} dy={i === 0 ? 0 : 18}>
            {part}
          </tspan>
        ))}
      </text>
    </g>
  );
}

function Device({ g, output, source, driver }: { g: Geometry; output: string; source: string; driver: string }) {
  return (
    <g>
      <Box x={2} y={24} w={g.box - 2} h={g.bottom + 12 - 24} />
      <Socket g={g} y={g.top} text={output} />
      {source && <Socket g={g} y={g.source} text={source} />}
      <Socket g={g} y={g.driverIn} text={driver} />
      <circle class="ln fill" cx={g.box} cy={g.bottom} r="6" />
      <text x={g.box - 16} y={g.bottom + 5} text-anchor="end">
        {drawingWords.minus}
      </text>
    </g>
  );
}

function Wires({ g, kind }: { g: Geometry; kind: Drawing['kind'] }) {
  const two = !kind.startsWith('one_input');
  const driverTo = kind === 'same_node' ? g.tap : g.node;
  return (
    <g>
      <path class="wire" d={`M${g.box} ${g.top}H${g.resistor - 24}M${g.resistor + 24} ${g.top}H${g.node}V${g.narrow ? 128 : 124}`} />
      {two && <path class="wire" d={`M${g.box} ${g.source}H${g.tap - 14}Q${g.tap} ${g.source} ${g.tap} ${g.source - 14}V${g.top}`} />}
      <path class="wire second" d={driverTo === g.tap ? `M${g.box} ${g.driverIn}H${g.tap + 4}Q${g.tap + 20} ${g.driverIn} ${g.tap + 20} ${g.driverIn - 16}V${g.top + 18}Q${g.tap + 18} ${g.top + 4} ${g.tap} ${g.top}` : `M${g.box} ${g.driverIn}H${g.node - 64}Q${g.node - 46} ${g.driverIn} ${g.node - 46} ${g.driverIn - 18}V${g.top + 34}Q${g.node - 44} ${g.top + 6} ${g.node} ${g.top}`} />
      <path class="wire" d={`M${g.box} ${g.bottom}H${g.node}V${g.narrow ? 200 : 214}`} />
      {two && <circle class="solid" cx={g.tap} cy={g.top} r="4.5" />}
      <circle class="solid" cx={g.node} cy={g.top} r="4.5" />
    </g>
  );
}

/** Words beside what stands in the driver's place, clear of the second wire. */
function Beside({ g, y, text, cls }: { g: Geometry; y: number; text: string; cls?: string }) {
  if (g.narrow) return <Words x={g.node - 56} y={y} text={text} anchor="end" most={12} {...(cls ? { cls } : {})} />;
  return <Words x={g.node + 18} y={y} text={text} most={14} {...(cls ? { cls } : {})} />;
}

/** What stands in the driver's place. */
function Load({ g, kind, known }: { g: Geometry; kind: Drawing['kind']; known: string }) {
  const from = g.narrow ? 128 : 124;
  const to = g.narrow ? 200 : 214;
  if (kind === 'shorted_leads') {
    return (
      <g>
        <path class="wire" d={`M${g.node} ${from}V${to}`} />
        <path class="held" d={`M${g.node - 8} ${from + 30}h16l-3 24h-10z`} stroke-width="1.8" />
        <Beside g={g} y={from + 46} text={drawingWords.clips} />
      </g>
    );
  }
  if (kind === 'open_leads' || kind === 'one_input_open') {
    return (
      <g>
        <path class="held" d={`M${g.node - 8} ${from}h16l-3 22h-10zM${g.node - 8} ${to}h16l-3 -22h-10z`} stroke-width="1.8" />
        <Beside g={g} y={from + 46} text={drawingWords.air} />
      </g>
    );
  }
  if (kind === 'known_resistor' || kind === 'one_input_resistor') {
    return (
      <g>
        <path class="wire" d={`M${g.node} ${from}V${to}`} />
        <Resistor x={g.node} y={(from + to) / 2} turned />
        <Beside g={g} y={(from + to) / 2 + 6} text={known} cls="value" />
      </g>
    );
  }
  const scale = 0.52;
  return (
    <g>
      {g.narrow ? <SmallDriver x={g.node - 34} y={from + 16} /> : <DriverSection x={g.node - 148.5 * scale} y={from} scale={scale} cloth={false} />}
      <path class="wire" d={g.narrow ? `M${g.node} ${from}v20M${g.node} ${to - 20}v20` : `M${g.node} ${to}v-130`} opacity={g.narrow ? 1 : 0} />
    </g>
  );
}
