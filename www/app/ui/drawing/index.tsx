// Chooses the drawing of a step.
import type { Drawing } from '../../core/types.gen';
import { DividerDrawing } from './wiring_divider';
import { CellDrawing } from './wiring_cell';
import { CloseDrawing } from './wiring_close';
import { MeterDrawing } from './wiring_meter';
import { KnockDrawing } from './wiring_knock';
import { PairDrawing } from './wiring_pair';

export function StepDrawing({ drawing, sensor }: { drawing: Drawing; sensor: 'coil' | 'microphone' }) {
  switch (drawing.kind) {
    case 'two_channel_divider':
    case 'same_node':
    case 'known_resistor':
    case 'shorted_leads':
    case 'open_leads':
    case 'one_input':
    case 'one_input_resistor':
    case 'one_input_open':
      return <DividerDrawing drawing={drawing} />;
    case 'close_without':
    case 'close_with':
    case 'close_loaded':
      return <CloseDrawing drawing={drawing} />;
    case 'meter_by_hand':
      return <MeterDrawing drawing={drawing} />;
    case 'cell_divider':
      return <CellDrawing drawing={drawing} />;
    case 'pair_cables':
      return <PairDrawing drawing={drawing} />;
    default:
      return <KnockDrawing drawing={drawing} sensor={sensor} />;
  }
}
