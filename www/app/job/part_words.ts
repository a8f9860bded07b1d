// How parts are called: side and band, else type, else kind.
import type { Part } from '../core/types.gen';
import { jobsWords as w } from '../words/jobs';

/** Inside a name a band begins small, unless it is an abbreviation. */
export const inner = (text: string) => (/^\p{Lu}(?!\p{Lu})/u.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text);
const upper = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

export function partName(part: Pick<Part, 'side' | 'band' | 'kind' | 'model'>): string {
  const side = part.side === 'none' ? '' : w.sides[part.side];
  const what = part.band.trim() || (part.kind === 'driver' ? part.model.trim() : w.kinds[part.kind]);
  return upper([side, side ? inner(what) : what].filter(Boolean).join(' ')) || w.unnamed;
}

/** Name of a pair or of a part alone, without the side. */
export const groupName = (part: Pick<Part, 'band' | 'kind' | 'model'>): string => partName({ ...part, side: 'none' });

export const jobTitle = (job: { title: string; number: string }): string => job.title.trim() || (job.number.trim() ? `${w.slip} ${job.number.trim()}` : w.list.untitled);
