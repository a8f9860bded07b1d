// The start: equipment, kept readings, my bench.

export const startWords = {
  question: 'What have you got at hand?',
  about: 'Conewright measures old loudspeakers with what you already own, one part at a time, and nothing you record leaves this device.',
  nothingElse: 'Nothing else needed',
  later: 'Not open yet: this check comes later.',
  missing: (parts: string[]) => `Not at hand: ${parts.join(', ')}.`,
  equipment: {
    legend: 'Tick what is at hand',
    help: 'Asked once and kept as your bench. A check that wants more then names what is missing.',
    kept: 'Kept as your bench. A check that wants more names what is missing.',
  },
  /** `name` stands on the tick, `part` in the sentence that something is missing. */
  items: {
    microphone: { name: 'microphone', part: 'a microphone' },
    cable: { name: 'cable from driver to input', part: 'a cable from the driver to the input' },
    stereo: { name: 'stereo line input', part: 'a stereo line input' },
    resistor: { name: 'known resistor', part: 'a known resistor' },
    meter: { name: 'multimeter', part: 'a multimeter' },
    amplifier: { name: 'amplifier', part: 'an amplifier' },
  },
  plates: {
    phone: {
      title: 'Only this phone or laptop',
      does: 'Knock on the cone, heard by the microphone.',
      gives: 'Gives {f_s} and {q_ms}, less surely',
    },
    cable: {
      title: 'A cable into the input',
      does: 'Knock. The coil itself is the sensor. With a resistor across it, all three {q}.',
      gives: 'Gives {f_s}, {q_ms}, more surely',
    },
    meter: {
      title: 'A multimeter',
      does: 'By meter: impedance tone by tone, through one resistor.',
      gives: 'Will give {r_e}, {f_s}, all three {q}',
    },
    amplifier: {
      title: 'An amplifier and one resistor',
      does: 'Impedance, heard by the microphone.',
      gives: 'Will give {z}, {f_s}, {q_ts}',
    },
    stereo: {
      title: 'A stereo line input and one resistor',
      does: 'Impedance, in one take. A headphone output is enough to drive it.',
      gives: 'Gives {z} with phase, every figure',
    },
    recording: {
      title: 'A recording',
      does: 'Open a WAV file made anywhere.',
      gives: 'Gives what the recording can prove',
    },
    practice: {
      title: 'No hardware',
      does: 'The practice bench: invented drivers with known faults, and the very same checks.',
      gives: 'Gives you the hang of it, within a minute',
    },
  },
  kept: {
    title: 'Kept readings',
    underWay: 'Under way',
    goOn: 'Go on',
    goOnNamed: (part: string) => `Go on: ${part}`,
    takes: (n: number) => (n === 1 ? 'one take so far' : `${n} takes so far`),
    empty: 'Nothing here yet. Start with the practice bench, or with what you have at hand.',
    open: 'Open',
    again: 'Analyse again',
    againNamed: (part: string) => `Analyse again: ${part}`,
    remove: 'Delete',
    removeNamed: (part: string) => `Delete: ${part}`,
    removed: (part: string) => `${part} is deleted.`,
    undo: 'Put it back',
    analysing: 'Analysing the kept takes again.',
    sum: (count: number, size: string) =>
      count === 1 ? `One reading, ${size} with its takes, kept in this browser only.` : `${count} readings, ${size} with their takes, kept in this browser only.`,
    save: 'Save what matters as a file before you clear the browser.',
    unavailable: 'This browser keeps nothing for this page. Readings last until the page is closed; save them as files.',
    practice: (fault: string) => `practice bench, wrong with it: ${fault}`,
  },
  copy: {
    name: 'Conewright.html',
    take: 'Take a copy with you',
    about: ': the whole page in one file, which a double click opens, from a stick as well, without a network or a server.',
    here: 'This copy runs from a file. The browser asks anew each time whether it may record. What it keeps stays in this browser on this computer, in some browsers only as long as the file lies where it is: save what matters as files.',
  },
  myBench: {
    title: 'My bench',
    edit: 'Change my bench',
    empty: 'Not filled in yet. It is asked once, when a check needs it.',
    resistor: 'Known resistor',
    tolerance: 'within',
    output: 'Driven by',
    input: 'Input',
    inputResistance: 'Resistance of the input',
    notKnown: 'not known',
    systemInput: 'as the system chooses',
  },
};
