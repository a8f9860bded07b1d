// The invented workshop, pair and owner of the demo job.

export const demoWords = {
  source: 'sheet of the maker, invented',
  jig: 'Jig of the day',
  partName: (part: { band: string; side: string; model: string }) => `${part.side === 'left' ? 'Left' : 'Right'} ${part.band}, ${part.model}`,
  job: {
    number: 'D-01',
    title: 'Fallow three-way, pair',
    owner: 'demo',
    wanted: 'both sides alike, surrounds renewed, no buzz',
    technician: 'the demo',
    workshop: 'Alder Yard Workshop',
    specialist: 'an invented specialist',
    done: ['Surrounds of all four drivers renewed.', 'Old glue taken off the left bass.'],
    not_done: ['Crossovers were not opened.'],
    care: ['Keep the surrounds out of the sun.', 'Play at low level for the first twenty hours.'],
  },
  models: { bass: 'Fallow Twelve', mid: 'Marl Six' },
  order: { work: 'new surround', surround: 'foam, as the original', roll: 'half roll, outwards' },
  notes: { oldGlue: 'old glue still on the cone', cap: 'a dent, old or new?', capReason: 'The dent is in a photo of last year: it was there before.', lead: 'lead-out touches the spider' },
};
