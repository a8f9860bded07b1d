// Faults of the practice bench in the words of a workshop.
import { spell } from './figures';

const FAULTS: Record<string, string> = {
  none: 'nothing',
  shorted_turns: 'two of a hundred turns shorted',
  rub: 'the coil rubs',
  stiff_surround: 'a surround half as stiff again',
  heavy_cone: 'too much glue on the cone',
  weak_magnet: 'a weak magnet',
  loose_joint: 'a joint that opens by itself',
  gain_riding: 'the input’s gain rides up and down',
  hum: 'hum',
  noise: 'noise',
  clipped: 'the input is driven too hard',
  lost_buffer: 'the computer loses samples',
  wrong_resistor: 'the resistor is not what is printed on it',
  mono_input: 'the input mixes both channels',
  swapped_channels: 'the two input leads are exchanged',
  dead_channel: 'nothing arrives from the driver’s side',
  silent: 'nothing arrives at all',
  open_circuit: 'the driver is not connected',
  short_circuit: 'the leads touch',
  direct_current: 'the input has an offset',
  no_knock: 'nobody knocks',
  speech: 'somebody speaks instead of knocking',
  rumble: 'traffic rumbles',
  reversed: 'wired the other way round',
  unsteady_hand: 'an unsteady hand: it pulls too, or holds the microphone far off',
};

export const faultWordsOf = (fault: string) => FAULTS[fault] ?? spell(fault);
