// The numbers of a notice, by name with unit, as rows of words.
import { fixed, NBSP, significant } from '../ui/format';
import { figureWords } from './figures';

const LABELS: Record<string, string> = {
  peak_dbfs: 'Highest level',
  level_dbfs: 'Level',
  rms_dbfs: 'Mean level',
  noise_dbfs: 'Noise',
  hum_dbfs: 'Hum',
  step_dbfs: 'Step',
  snr_db: 'Signal above noise',
  change_db: 'Changed by',
  difference_db: 'Difference',
  excess_db: 'Too much by',
  wanted_db: 'Wanted',
  apart_db: 'Apart',
  below_signal_db: 'Below the signal',
  noise_after_over_before_db: 'Noise after, over before',
  hum_hz: 'Hum at',
  wanted_hz: 'Wanted',
  f_open_hz: 'Ring, terminals open',
  f_loaded_hz: 'Ring, with the load',
  f_without_hz: 'Ring, without the weight',
  f_with_hz: 'Ring, with the weight',
  others_ring_at_hz: 'The others ring at',
  q: 'Q',
  q_at_least: 'Q wanted at least',
  q_open: 'Q, terminals open',
  q_loaded: 'Q, with the load',
  q_found: 'Q found',
  q_expected: 'Q expected',
  q_at_full_amplitude: 'Q at full height',
  q_at_a_third: 'Q at a third of it',
  q_ratio: 'Q against each other',
  wanted_q: 'Q wanted',
  load_ohm: 'Load',
  impedance_ohm: 'Impedance read',
  found_ohm: 'Found',
  expected_ohm: 'Expected',
  series_resistor_ohm: 'Known resistor',
  rate_hz: 'Samples a second',
  low_hz: 'From',
  high_hz: 'Up to',
  duration_s: 'Length',
  ring_s: 'Ring lasts',
  ring_at_least_s: 'Wanted at least',
  time_s: 'At',
  knocks_wanted: 'Knocks wanted',
  knocks_set_aside: 'Knocks set aside',
  energy_share: 'Share of the energy',
  share_at_least: 'Share wanted at least',
  longest_zero_run_samples: 'Longest silence, samples',
  of_cone: 'Weight over moving mass',
  suggested_g: 'Better, grams',
  fell_by_db: 'Fell by',
  allowed_db: 'Allowed',
  clipped_samples: 'Tops cut off',
  frequency_hz: 'At',
  knocks: 'Knocks found',
  wanted: 'Knocks wanted',
  channel: 'Channel',
  limit: 'Limit',
};

export interface NumberRow {
  label: string;
  value: string;
}

/** Words for one number of a notice; an unknown name is spelled out with the unit its tail carries. */
export function numberRow(name: string, value: number): NumberRow {
  const { label, unit, scale } = figureWords(name);
  const shown = value / scale;
  const text = Number.isInteger(shown) ? fixed(shown, 0) : significant(shown, 3).replace(/(\.\d*?)0+$/, '$1').replace(/\.$/, '');
  const tail = unit === '' ? '' : unit === '°' ? unit : NBSP + unit;
  const said = LABELS[name] ?? label.charAt(0).toUpperCase() + label.slice(1);
  return { label: name.endsWith('_dbfs') ? `${said}, from full scale` : said, value: text + tail };
}
