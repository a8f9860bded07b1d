// The polarity and loose-joint checks.

export const polarityWords = {
  title: 'Which way it moves',
  finding: 'Each sign stands clear of everything that could hide another.',
  driver: (n: string) => `Driver ${n}`,
  said: {
    outwards_for_plus: 'outwards for plus on the marked terminal',
    inwards_for_plus: 'inwards for plus on the marked terminal',
    as_the_first: 'as the first driver',
    against_the_first: 'against the first driver',
    not_told: 'not told',
  } as Record<string, string>,
  margin: (ratio: string) => `The first movement is ${ratio} times all that could hide another sign; 3 is wanted.`,
  input: {
    upright: 'This path keeps the sign.',
    inverts: 'This path turns every signal upside down, and that is taken into account.',
    not_known: 'The sign of this path is not known: drivers are only compared.',
  } as Record<string, string>,
  table: 'Every movement heard',
  signs: {
    title: 'Which way round each input hears',
    none: 'Not learnt yet, or forgotten: the next check by a push asks for it.',
    help: 'Learnt once by a cell or a known driver, and kept by the name of the input. A new cable, adapter or driver software may turn it.',
    upright: 'keeps the sign.',
    inverts: 'turns every signal upside down.',
    again: 'Learn the sign again',
    againFor: (input: string) => `Learn the sign again: ${input}`,
  },
};

export const looseJointWords = {
  title: 'The joint',
  holds: 'The joint held while it was flexed.',
  loose: 'The joint opens.',
  change: 'Change of the voltage across the driver',
  openings: 'Every opening',
};
