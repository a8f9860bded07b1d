// Readings of one part over time: what can be compared, why not, and whether break-in has come to its end.
import type { BreakInSays, Comparability, ObstacleCode } from '../core/types.gen';

const of = (numbers: Partial<Record<string, number>>, name: string, digits = 1): string => (numbers[name] ?? NaN).toFixed(digits);

const COMPARABILITY: Record<Comparability, string> = {
  comparable: 'comparable',
  corrected: 'comparable, both brought to 20 °C',
  if_alike: 'comparable only if what is not known was alike',
  not_comparable: 'not comparable',
};

/** Why two readings of a figure cannot be compared, or what is not known; with the numbers that decided. */
const OBSTACLES: Record<ObstacleCode, (numbers: Partial<Record<string, number>>) => string> = {
  other_check: () => 'They come from different checks or sensors: the cone moved otherwise.',
  other_level: (n) => `The levels are ${of(n, 'earlier_level_v', 2)} and ${of(n, 'later_level_v', 2)} V; a factor of ${of(n, 'allowed_ratio')} is allowed. f_s and Q move with travel.`,
  other_temperature: (n) => `It was ${of(n, 'earlier_temperature_c')} and ${of(n, 'later_temperature_c')} °C; ${of(n, 'allowed_k')} K apart is allowed. A suspension is softer when warm.`,
  not_rested: (n) => `It had rested ${of(n, 'earlier_rest_min', 0)} and ${of(n, 'later_rest_min', 0)} min; ${of(n, 'wanted_min', 0)} min are wanted after hard work.`,
  other_attitude: (n) => `It lay otherwise${n.sag_mm === undefined ? '' : `: the cone hangs ${of(n, 'sag_mm', 2)} mm from where it hung`}.`,
  level_unknown: () => 'The level of one is not known.',
  temperature_unknown: () => 'The temperature of one is not known.',
  rest_unknown: () => 'How long it had rested is not known.',
  attitude_unknown: () => 'How it lay is not known.',
  no_uncertainty: () => 'One of the two has no uncertainty.',
};

const BREAK_IN: Record<BreakInSays, string> = {
  go_on: 'Go on. It still moves.',
  enough: 'Enough. As long again would move f_s by less than is allowed.',
  not_settling: 'It does not settle. Stop, and look for what gives way or has come loose.',
  cannot_tell: 'This cannot tell. Take it again after twice the hours, in the same jig and after the same rest.',
};

export const historyWords = {
  comparability: COMPARABILITY,
  obstacles: OBSTACLES,
  changed: { true: 'changed', false: 'not changed beyond the ±' },
  limitsNote: 'Limits are common practice, no source.',
  breakIn: {
    says: BREAK_IN,
    trend: (percent: string, half: string) => `${percent} ± ${half} % for twice the hours`,
    allowed: (percent: string) => `allowed: ${percent} %`,
    total: (percent: string) => `${percent} % since the first reading`,
    settles: (hz: string, half: string) => `Would settle at ${hz} ± ${half} Hz.`,
    notSettled: 'Where it settles cannot be told yet.',
  },
};
