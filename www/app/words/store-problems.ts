// What is said about trouble with the store: what is, then what to do.
import type { StoreProblemCode } from '../store/problems';
import type { ProblemWords } from './audio-problems';

export const STORE_PROBLEM_WORDS: Record<StoreProblemCode, ProblemWords> = {
  full: {
    what: 'This browser has no room left for the take.',
    remedy: 'Save old takes as files and delete them here, then store this one again. It is kept in this page until you leave it.',
  },
  unavailable: {
    what: 'This browser keeps nothing for this page; a private window does that.',
    remedy: 'Measure all the same, and save takes and readings as files before you close the page.',
  },
  not_there: {
    what: 'This is no longer in the store.',
    remedy: 'Go back to the list. What was saved as a file can be read in again.',
  },
  newer_version: {
    what: 'A newer version of this page has written the store.',
    remedy: 'Reload the page, so that the newer version runs here too.',
  },
  changed: {
    what: 'This was changed in another window while it was read.',
    remedy: 'Nothing was written. Try once more.',
  },
  failed: {
    what: 'The store of this browser did not answer as it should.',
    remedy: 'Save what is open as a file, then reload the page.',
  },
};

/** The browser's answer to being asked to keep everything. */
export const PERSISTENCE_WORDS = {
  granted: 'The browser has agreed to keep takes and readings until you delete them.',
  refused: 'The browser may clear takes and readings when room gets short. Save what matters as files.',
  unknown: 'The browser does not say whether it keeps takes and readings for good. Save what matters as files.',
} as const;
