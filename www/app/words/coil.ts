// Words of the coil: what is typed from a meter, what comes of it, and what it hints at.
import type { Agreement, CoilAnswer, CoilHint } from '../core/types.gen';
import { NBSP, significant } from '../ui/format';

const ohm = (value: number) => `${significant(value, 2)}${NBSP}Ω`;

export const HINTS: Record<CoilHint, (found: CoilAnswer) => string> = {
  open: () => 'Open: the meter shows over range. Look at the lead-outs and their joints at the terminals, then read again while you bend them lightly.',
  short: () => 'Near nought: shorted before the coil, or the leads touch each other. Part the leads and read again.',
  wandering: (f) =>
    `The cone was still, and yet the readings lie ${ohm(f.still_spread_ohm)} apart; the last digits of the meter allow ${ohm(f.spread_allowed_ohm)}. Clean what the leads grip, let the coil come to the temperature of the room, and read again.`,
  loose_joint: (f) =>
    `With the cone moved, the readings lie ${ohm(f.moved_spread_ohm)} apart. A moving cone upsets a meter by itself, so this proves nothing. Do the check for a loose joint: it uses a tone.`,
  leads_not_read: () => `The leads were not read. They count as up to ${ohm(0.2)} (common practice). Hold their ends together and type what the meter shows.`,
  no_temperature: () => `No temperature was noted: 20${NBSP}°C is taken. 5${NBSP}K are 2${NBSP}% of the resistance.`,
  one_reading: () => 'A single reading does not show how well it repeats. Take the leads off, put them on again, and read a second time.',
};

export const coilWords = {
  title: 'Type the readings of a meter',
  again: 'Type further readings',
  help: 'Cone still, driver at the temperature of the room for an hour, nothing else connected.',
  caution: 'Driver off the amplifier before the meter goes on: a meter on its ohms range may not see any voltage.',
  still: ['Cone still, first reading', 'Second reading', 'Third reading'],
  leads: 'Leads held together',
  leadsHelp: 'What the meter shows then; it is taken off.',
  movedLow: 'Lowest while the cone is moved',
  movedHigh: 'Highest while the cone is moved',
  movedHelp: 'Wait for the figure to settle each time.',
  overRange: 'The meter shows over range across the coil',
  temperature: 'Temperature of the coil',
  meterPercent: 'The meter is within, per cent of the reading',
  meterOhm: 'and within, in ohms',
  meterHelp: 'From its data sheet: ±(0.8 % + 2 digits), where the last digit is 0.1 Ω, makes 0.8 % and 0.2 Ω.',
  frame: 'Coil to frame',
  frameChoice: { none: 'not read', over: 'over range', value: 'a value' },
  frameValue: 'Coil to frame reads',
  frameLimit: 'The meter shows up to',
  frameHelp: 'One lead on a terminal, one on bare metal of the frame. More than 10 MΩ is wanted (common practice).',
  phase: 'When in the job',
  note: 'Note',
  keep: 'Put it on the card',
  fieldsWrong: 'A field above wants mending',
  kept: (when: string, phase: string) => `${when}, ${phase}`,
  at20: (shown: string) => `at 20 °C; the meter showed ${shown}`,
  toFrame: { pass: 'free of the frame', fail: 'touches the frame', not_proven: 'not proven' },
  toFrameOf: 'Coil to frame',
  toFrameMore: (megohm: number) => `more than ${significant(megohm, 2)}${NBSP}MΩ`,
  toFrameIs: (megohm: number) => `${significant(megohm, 2)}${NBSP}MΩ`,
  toFrameNone: 'was not read',
  againstFit: (which: string) => `Against the fit of ${which}`,
  fitWords: {
    agrees: (difference: string) => `agrees: ${difference} apart`,
    differs: (difference: string) => `differs by ${difference}. Leads, temperature or the known resistor of the jig: read all three again.`,
    cannot_tell: () => 'cannot be told: the uncertainty is too wide, or there is none',
  } satisfies Record<Agreement, (difference: string) => string>,
  againstRated: 'Against the rated impedance',
  rated: (share: string) => `${share} of it`,
  ratedWords: {
    agrees: 'usually it is 0.75 to 0.9 of it (common practice): nothing strange',
    differs: 'usually it is 0.75 to 0.9 of it (common practice): worth a second look, no verdict',
    cannot_tell: 'usually it is 0.75 to 0.9 of it (common practice): near the edge of that',
  } satisfies Record<Agreement, string>,
  looseJoint: 'Open the check for a loose joint',
  earlier: 'Earlier readings',
  remove: 'Take off',
  removeOf: (when: string) => `Take off the reading of ${when}`,
  removed: 'The reading of the coil was taken off.',
};
