// Two drivers at once.

export const pairWords = {
  title: 'Side by side',
  help: 'The difference is the logarithm of first over second, in per cent: with a plus the first driver has more. What both share (the resistor’s error, the room, the input) falls out of it, so it is surer than the two columns.',
  figure: 'Figure',
  column: { first: 'First', second: 'Second' },
  difference: 'Difference',
  knocksOf: { first: 'The knocks on the first driver', second: 'The knocks on the second driver' },
  of: { first: 'first driver', second: 'second driver' },
};
