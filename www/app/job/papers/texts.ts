// Figures, limits, days and lists as the papers write them.
import type { Cell, Job, Reason } from '../../core/types.gen';
import { figureText as figureName } from '../../match/limits';
import { figureText } from '../../ui/figure';
import { asSet, NBSP, plusMinus } from '../../ui/format';
import { figureWords } from '../../words/figures';
import { papersWords as w } from '../../words/papers';
import { dayText } from '../job_screen';
import { inner, partName } from '../part_words';
import { apartText as percent, limitText, reasonText } from '../reason_words';
import { partOfId } from './load';

/** A figure with the symbol that `Rich` sets, else its name. */
export function called(name: string): string {
  const { symbol } = figureWords(name);
  return symbol ? `{${symbol}}` : figureName(name);
}

/** A difference in per cent with its ±. */
export function apartText(value: number, half: number | null): string {
  return half === null ? percent(value) : plusMinus(Math.abs(value), half, `${NBSP}%`);
}

export const limitsText = (reason: Reason): string => w.letter.within(limitText(reason.name, reason.low ?? NaN), limitText(reason.name, reason.high ?? NaN));

const two = (n: number) => String(n).padStart(2, '0');

/** Of a moment, the day here; written 2026-01-31. */
export function dayOf(ms: number): string {
  const at = new Date(ms);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}

export const dayAt = (ms: number): string => dayText(dayOf(ms));

/** Day of a paper: that of the handing over, else today. */
export const paperDay = (job: Job): string => dayText(job.handed_over_on || dayOf(Date.now()));

/** `left bass and right bass`. */
export function together(names: string[]): string {
  if (names.length < 2) return names.join('');
  return `${names.slice(0, -1).join(', ')} ${w.record.and} ${names[names.length - 1]}`;
}

export const namesOf = (job: Job, ids: string[]): string => together(ids.flatMap((id) => partOfId(job, id) ?? []).map((p) => inner(partName(p))));

/** Why a cell is not a pass, in sentences. */
export function whyNot(cell: Cell): string {
  const against = cell.reasons.filter((r) => r.verdict !== 'pass');
  return against.map(reasonText).join(' ');
}

/** What a difference within a pair may be. */
export const upToText = (reason: Reason): string => (reason.high === null ? '' : w.letter.upTo(asSet(reason.high) + NBSP + '%'));

/** What was met: a figure, or how far apart. */
export function metText(reason: Reason): string {
  if (reason.value === null) return w.notMeasured;
  if (reason.ground === 'partner') return w.letter.apart(apartText(reason.value, reason.half_width_95));
  return figureText(reason.name, { value: reason.value, half_width_95: reason.half_width_95 });
}
