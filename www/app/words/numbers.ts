// The numbers of a notice, by name with unit, as rows of words.
import { fixed, NBSP, significant } from '../ui/format';
import { figureWords, type FigureWords } from './figures';

/** What a number is, and where the tail of its name does not tell them, its unit and the size of one of it. */
type NumberWords = string | Pick<FigureWords, 'label' | 'unit' | 'scale'>;

const share = (label: string): NumberWords => ({ label, unit: '%', scale: 1e-2 });
const percent = (label: string): NumberWords => ({ label, unit: '%', scale: 1 });

/** By the names that the core gives to the numbers of its notices; a test reads them from its source. */
export const NUMBERS: Record<string, NumberWords> = {
  // The take.
  channel: 'Channel',
  channels: 'Channels there',
  wanted_channel: 'Channel wanted',
  take: 'Take',
  clipped_samples: 'Tops cut off',
  constant_samples: 'Samples, all of one value',
  peak: share('Highest level, of full scale'),
  peak_dbfs: 'Highest level',
  rms_dbfs: 'Mean level',
  level_dbfs: 'Level of the signal',
  step_dbfs: 'One step',
  dc: share('Constant voltage, of full scale'),
  time_s: 'First break at',
  breaks: 'Breaks',
  longest_zero_run_samples: 'Samples at nought in a row',
  figures_left_out: 'Figures left out',
  periods_dropped: 'Periods set aside',
  slips: 'Jumps between periods',
  mark_moved_samples: 'A mark off its place, samples',
  marks_found: 'Marks heard, of three',
  forecast_q_ts_relative: share('Q_ts would be certain to'),
  low_end_off: share('Low end off the middle'),
  duration_s: 'The take lasts',
  wanted_s: 'Wanted',
  rate_hz: 'Sample rate',
  wanted_hz: 'Wanted',
  change_db: 'The gain moved by',
  level_apart_db: 'The takes to be compared came back apart by',
  met_within_db: 'The takes that are compared came back within',
  apart_db: 'Two tones 20 dB apart came back apart by',
  allowed_db: 'Allowed',
  fell_by_db: 'Fell by',
  hum_hz: 'Hum at',
  hum_dbfs: 'Hum',
  hum_over_ring: share('Hum, of the ring'),
  below_signal_db: 'Below the signal by',
  snr_db: 'Signal above noise',
  wanted_db: 'Wanted',
  lines: 'Lines of the spectrum that can be used',
  // The jig.
  series_resistor_ohm: 'Known resistor',
  found_ohm: 'Found',
  expected_ohm: 'Stated',
  deviations: 'Standard deviations off',
  impedance_ohm: 'Impedance',
  excess_db: 'Driver above source by',
  difference_db: 'Driver above source by',
  // The knock.
  knocks: 'Knocks found',
  wanted: 'Knocks wanted',
  knocks_wanted: 'Knocks wanted',
  rings_that_jerk: 'Rings that jerk',
  knocks_that_stop_dead: 'Knocks that stop dead',
  knocks_set_aside: 'Knocks set aside',
  alike: share('Alike in the two inputs'),
  resonance_ratio: 'Resonances differ by a factor of',
  sounds_set_aside: 'Sounds set aside',
  q: 'Q',
  q_at_least: 'Q, at least wanted',
  wanted_q: 'Q wanted',
  ring_s: 'The ring lasts',
  ring_at_least_s: 'At least wanted',
  others_ring_at_hz: 'The others ring at',
  energy_share: share('Share of the energy'),
  energy_share_of_free_motion: share('Energy in the free ring of a cone'),
  energy_share_of_one_sinusoid: share('Energy in one ring'),
  share_at_least: share('At least wanted'),
  noise_dbfs: 'Noise',
  noise_over_ring: share('Noise, of the ring'),
  noise_over_loudest: share('Noise, of the loudest knock'),
  noise_after_over_before_db: 'Noise after a knock above that before',
  decay_faster_when_strong_percent: percent('Strong rings die faster by'),
  q_bent_by_gain_percent: percent('What the bend changes in Q'),
  q_scatter_percent: percent('Scatter of Q'),
  noise_explains_percent: percent('Noise explains'),
  statistic: 'Strength of the sign',
  q_at_full_amplitude: 'Q at the top',
  q_at_a_third: 'Q at a third of it',
  of_cone: share('Weight, of the moving mass'),
  suggested_g: { label: 'Suggested weight', unit: 'g', scale: 1 },
  stiffening: share('Stiffness that the box adds'),
  box_l: { label: 'Air in the box', unit: 'l', scale: 1 },
  loss_ratio: 'Loss in the box, by a factor of',
  mass_ratio: 'Moving mass in the box, by a factor of',
  f_in_box_hz: 'Resonance in the box',
  f_free_hz: 'Resonance in free air',
  v_as_weight_l: { label: 'V_as by the weight', unit: 'l', scale: 1 },
  v_as_box_l: { label: 'V_as by the box', unit: 'l', scale: 1 },
  load_ohm: 'Resistor across the terminals',
  // The joint.
  openings: 'Openings',
  first_at_s: 'The first at',
  deepest: share('Deepest change of the voltage'),
  moved_over_noise: 'The cone’s own voltage over the noise',
  tone_scatter: share('Scatter of the tone'),
  // Polarity.
  movements: 'Movements found',
  movements_wanted: 'Movements wanted',
  began_plus: 'Began with plus',
  began_minus: 'Began with minus',
  unclear: 'Not clear',
  driver: 'Driver',
  input_signs: 'Sources of the sign',
  // The reading.
  frequency_hz: 'At',
  f_s_hz: 'f_s',
  r_e_ohm: 'R_e',
  meter_r_e_ohm: 'By the meter',
  fitting_ohm: 'Would agree',
  low_hz: 'From',
  high_hz: 'To',
  f_with_hz: 'Resonance with the weight',
  f_without_hz: 'Resonance without the weight',
  f_loaded_hz: 'Resonance with the resistor',
  f_open_hz: 'Resonance with open terminals',
  q_loaded: 'Q with the resistor',
  q_open: 'Q with open terminals',
  q_found: 'Q found',
  q_expected: 'Q asked for by the other loads',
  frequency_ratio: 'Frequencies differ by a factor of',
  q_ratio: 'Qs differ by a factor of',
  difference: share('They differ by'),
  allowed: share('Allowed'),
  limit: 'Limit',
  relative_misfit: share('The fit misses by'),
  f_s_relative_uncertainty: share('Uncertainty of f_s'),
  q_relative_uncertainty: share('Uncertainty of Q'),
  q_ts_relative_uncertainty: share('Uncertainty of Q_ts'),
  // The readings of a meter.
  readings: 'Readings',
  readings_wanted: 'Readings wanted',
  readings_swapped: 'Readings with more volts across the driver than at the source',
  reading: 'Reading',
  exchanged_with_reading: 'Exchanged with reading',
  highest_hz: 'Impedance highest at',
  nearest_hz: 'Nearest reading at',
  dip_hz: 'Impedance lowest at',
  driver_typed_v: 'Across the driver, typed',
  driver_probably_v: 'Across the driver, probably meant',
  driver_expected_v: 'Across the driver, as the others ask',
  resistor_typed_v: 'Across the resistor, typed',
  resistor_probably_v: 'Across the resistor, probably meant',
  resistor_expected_v: 'Across the resistor, as the others ask',
  source_typed_v: 'At the source, typed',
  source_probably_v: 'At the source, probably meant',
  source_expected_v: 'At the source, as the others ask',
  r_e_typed_ohm: 'R_e by ohms',
  r_e_by_tones_ohm: 'R_e by the tones',
};

export interface NumberRow {
  label: string;
  value: string;
}

/** Words for one number of a notice; an unknown name is spelled out with the unit its tail carries. */
export function numberRow(name: string, value: number): NumberRow {
  const plain = figureWords(name);
  const own = NUMBERS[name] ?? plain.label.charAt(0).toUpperCase() + plain.label.slice(1);
  const { label, unit, scale } = typeof own === 'string' ? { ...plain, label: own } : own;
  const shown = value / scale;
  const text = Number.isInteger(shown) ? fixed(shown, 0) : significant(shown, 3).replace(/(\.\d*?)0+$/, '$1').replace(/\.$/, '');
  const tail = unit === '' ? '' : unit === '°' ? unit : NBSP + unit;
  return { label: name.endsWith('_dbfs') ? `${label}, from full scale` : label, value: text + tail };
}
