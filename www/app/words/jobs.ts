// What the first screen says of jobs, and how parts are called.
import type { PartKind, Side } from '../core/types.gen';

const KINDS: Record<PartKind, string> = { driver: 'driver', cabinet: 'cabinet', control: 'level control', crossover: 'crossover', loudspeaker: 'finished loudspeaker' };
const SIDES: Record<Side, string> = { none: 'no side', left: 'left', right: 'right' };

export const jobsWords = {
  slip: 'Job',
  kinds: KINDS,
  sides: SIDES,
  unnamed: 'Part without a name',
  file: 'File into a job',
  fileNamed: (name: string) => `File into a job: ${name}`,
  list: {
    title: 'Jobs',
    about: 'A pair of loudspeakers, its parts, and what the owner gets. A reading taken without a job can be filed into one later.',
    stub: 'Begin or open a job',
    begin: 'Begin a job',
    none: 'No job yet. One driver needs none: take its readings and file them when you like.',
    demo: {
      open: 'Open the demo job',
      making: (percent: string) => `Taking the readings of the demo on the practice bench: ${percent}`,
      about: 'The demo is an invented workshop and pair, measured on the practice bench: every verdict in one place.',
    },
    remove: 'Delete',
    removeNamed: (name: string) => `Delete the job ${name}`,
    removed: (name: string) => `The job ${name} is deleted. Its readings stay.`,
    undo: 'Undo',
    parts: (n: number) => (n === 1 ? '1 part' : `${n} parts`),
    changed: (when: string) => `changed ${when}`,
    untitled: 'Job without a title',
  },
  files: 'Job files',
  reminder: {
    never: 'In this browser only.',
    changed: (when: string) => `Changed since it was saved as a file, ${when}.`,
    save: 'Save as a file',
    saveNamed: (title: string) => `Save as a file: ${title}`,
  },
};
