// The sum of a job in plain words. What is said is decided by the core (src/job/summary.rs); here it is worded.
import type { GroupSummary, Job, Summary } from '../../core/types.gen';
import { asSet, NBSP } from '../../ui/format';
import { papersWords } from '../../words/papers';
import { apartText } from '../reason_words';
import { partOfId } from './load';
import { groupName, inner } from '../part_words';
import { called, together } from './texts';

const w = papersWords.summary;

export function summaryText(job: Job, summary: Summary): string {
  const pairs = summary.groups.flatMap((group) => pairSentence(job, group) ?? []);
  const byHand = summary.items.filter((i) => i.by_hand).length;
  return [wholeSentence(summary), ...pairs, byHand ? w.byHand(byHand) : ''].filter(Boolean).join(' ');
}

function wholeSentence({ whole, items, groups }: Summary): string {
  // The match is one check of two parts.
  const one = ({ part, check }: Summary['items'][number]) => `${check} ${check === 'match' ? groups.findIndex((g) => g.parts.includes(part)) : part}`;
  const n = (state: string) => new Set(items.filter((i) => i.state === state).map(one)).size;
  const open = [
    n('fail') ? w.failed(n('fail')) : '',
    n('not_proven') ? w.unproven(n('not_proven')) : '',
    n('refused') ? w.refused(n('refused')) : '',
    n('to_do') ? w.toDo(n('to_do')) : '',
  ].filter(Boolean);
  if (whole === 'pass') return w.whole.pass(w.everything);
  return w.whole[whole](open.length > 0 ? together(open) : w.noLimit);
}

/** Name of a pair inside a sentence: `bass drivers`. */
export function pairName(job: Job, group: GroupSummary): string {
  const part = partOfId(job, group.parts[0] ?? '');
  if (!part) return '';
  const name = inner(groupName(part));
  return part.kind === 'driver' && part.band.trim() ? w.drivers(name) : w.several(name);
}

/** The difference that weighs most stands first and speaks for the pair. */
function pairSentence(job: Job, group: GroupSummary): string | undefined {
  if (!group.pair) return undefined;
  const [worst] = group.lines;
  const detail = worst?.allowed_percent != null ? w.pairDetail(apartText(worst.percent), called(worst.name), `${asSet(worst.allowed_percent)}${NBSP}%`) : w.pairAlone;
  return w.pair[group.pair](pairName(job, group)) + detail;
}
