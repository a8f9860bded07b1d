// Words in and around plots.

export const plotWords = {
  modulus: 'impedance |Z|, ohms',
  phase: 'phase',
  residual: 'measured less fit',
  measured: 'measured',
  fit: 'fit',
  fitBand: 'fit, with its uncertainty',
  phaseFit: 'phase, fit',
  envelope: 'how it dies away',
  amplitude: 'height of the ring, decibels below full scale',
  saysNothing: 'the take says nothing here',
  nothingBelow: (hz: string) => `says nothing below ${hz}`,
  nothingAbove: (hz: string) => `not above ${hz}`,
  nothingBetween: (low: string, high: string) => `left out, ${low} to ${high}`,
  knockItself: 'the knock itself: left out',
  halvesEvery: (ms: string) => `it halves every ${ms}`,
  measuredKnocks: (n: number) => (n === 1 ? 'measured, one knock' : `measured, ${n} knocks laid together`),
};
