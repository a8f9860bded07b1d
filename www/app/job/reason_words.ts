// Reasons of a verdict as sentences, with their numbers.
import type { Cell, Reason } from '../core/types.gen';
import { figureText as matchFigure } from '../match/limits';
import { figureText } from '../ui/figure';
import { fixed, asSet, NBSP, pair, plusMinus } from '../ui/format';
import { figureWords } from '../words/figures';
import { jobWords } from '../words/job';
import { pointWords } from '../words/look';

const w = jobWords.reasons;
const PERCENT = `${NBSP}%`;
const upper = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

/** The symbol as `Rich` sets it, else the name. */
export function spoken(name: string): string {
  const { symbol } = figureWords(name);
  return symbol ? `{${symbol}}` : upper(matchFigure(name));
}

/** In the unit shown. */
export function limitText(name: string, value: number): string {
  const { unit, scale } = figureWords(name);
  return asSet(value / scale) + (unit ? NBSP + unit : '');
}

const SOURCES: Record<string, string> = { published: w.published, earlier: w.earlier };

export function reasonText(reason: Reason): string {
  const { ground, name, verdict, value, half_width_95: half } = reason;
  switch (ground) {
    case 'reference': {
      const shown = figureText(name, { value: value ?? NaN, half_width_95: half });
      if (half === null) return w.noSpread(spoken(name), shown);
      const source = [SOURCES[reason.source] ?? reason.source, reason.common_practice ? w.common : ''].filter(Boolean).join(', ');
      return w.reference[verdict](spoken(name), shown, limitText(name, reason.low ?? NaN), limitText(name, reason.high ?? NaN), source);
    }
    case 'partner': {
      const limit = `${fixed(reason.high ?? NaN, (reason.high ?? 0) < 1 ? 1 : 0)}${NBSP}% (${reason.common_practice ? w.common : w.agreed})`;
      return w.partner[verdict](spoken(name), plusMinus(Math.abs(value ?? NaN), half, PERCENT), limit);
    }
    case 'finding':
      if (name === 'coil_to_frame_megohm') return w.frame[verdict](`${asSet(value ?? NaN)}${NBSP}MΩ`);
      if (name === 'points_left' || name === 'points_sound') return w[name](value ?? 0);
      return w.finding[name] ?? name;
    case 'doubtful':
      return w.doubtful(name.replaceAll('_', ' '));
    case 'refused':
      return w.refused(reason.source);
    case 'no_limit':
      return w.noLimit;
    case 'point':
      return [w.point[verdict](pointWords(name)), reason.source].filter(Boolean).join(' ');
  }
}

/** The main figure of a cell, short: value and unit, with the ± only where nothing is proven. */
export function cellText(cell: Cell): string {
  if (cell.word) return cell.word === 'outwards_for_plus' ? jobWords.grid.outwards : cell.word === 'inwards_for_plus' ? jobWords.grid.inwards : '';
  const { main, figure } = cell;
  if (!main || !figure) return '';
  const { unit, scale } = figureWords(main);
  const half = figure.half_width_95;
  if (half === null || cell.state === 'not_proven') return figureText(main, figure);
  const shown = pair(figure.value / scale, half / scale);
  // A cell is read at a glance: three digits are enough where the ± allows more.
  const three = Math.abs(figure.value / scale) >= 100 ? 0 : Math.abs(figure.value / scale) >= 10 ? 1 : 2;
  return fixed(figure.value / scale, Math.min(three, (shown.value.split('.')[1] ?? '').length)) + (unit ? NBSP + unit : '');
}

/** How far partners lie apart, in per cent. */
export const apartText = (percent: number): string => fixed(Math.abs(percent), Math.abs(percent) < 2 ? 1 : 0) + PERCENT;
