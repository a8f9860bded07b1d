// Words in drawings, and what a drawing says to those who do not see it.
import type { DrawingKind } from '../core/types.gen';

export const drawingWords: Record<DrawingKind, string> & { minus: string; clips: string; air: string } = {
  two_channel_divider: 'Drawing: output, resistor and driver in a row; one input at the source side of the resistor, one at the driver',
  same_node: 'Drawing: both inputs at the source side of the resistor',
  known_resistor: 'Drawing: a known resistor in the place of the driver',
  meter_by_hand: 'Drawing: output, resistor and driver in a row; a meter is held across the driver, then across the other pair',
  shorted_leads: 'Drawing: the two clips of the driver joined',
  open_leads: 'Drawing: the driver lifted off, its two clips in the air',
  one_input: 'Drawing: output, resistor and driver in a row; one input across the driver',
  one_input_resistor: 'Drawing: output, resistor and a known resistor in the place of the driver; one input across it',
  one_input_open: 'Drawing: output and resistor; nothing in the place of the driver, one input across the open leads',
  close_without: 'Drawing: an amplifier straight at the driver; a microphone close before the cone',
  close_with: 'Drawing: an amplifier, a resistor and the driver in a row; a microphone close before the cone',
  close_loaded: 'Drawing: an amplifier straight at the driver, a resistor across the amplifier’s output; a microphone close before the cone',
  coil_cable: 'Drawing: a cable from both terminals of the driver to the input; a pencil knocks on the cone',
  headset_cable: 'Drawing: a cable from the terminals through a resistor and a capacitor to a headset socket; a pencil knocks on the cone',
  microphone: 'Drawing: a microphone close to the cone; a pencil knocks on the cone',
  load_resistor: 'Drawing: a resistor across the terminals of the driver; a pencil knocks on the cone',
  weight_on_cone: 'Drawing: a weight fixed to the cone with putty; a pencil knocks on the cone',
  push_cable: 'Drawing: a cable from both terminals of the driver to the input, the marked one on the tip; nothing lies on the cone',
  driven_microphone: 'Drawing: a microphone close to the cone',
  cell_divider: 'Drawing: a cell, a resistor in series and one across the input; the free end of the first touches the tip of the plug',
  pair_cables: 'Drawing: two drivers, a cable from the terminals of each to an input of its own; a pencil knocks on a cone',
  minus: 'minus',
  clips: 'clip to clip',
  air: 'clips apart',
};
