// A figure with its ±; both end at the same decimal place.
import type { Figure as CoreFigure } from '../core/types.gen';
import { asSet, NBSP, pair } from './format';
import { figureWords } from '../words/figures';
import { words } from '../words/common';
import { Symbol } from './symbol';

/** Text of a figure in the unit shown, for lists and tables. */
export function figureText(name: string, figure: CoreFigure): string {
  const { unit, scale } = figureWords(name);
  const tail = unit ? NBSP + unit : '';
  if (figure.half_width_95 == null) return asSet(figure.value / scale) + tail;
  const { value, plusMinus } = pair(figure.value / scale, figure.half_width_95 / scale);
  return `${value}${NBSP}±${NBSP}${plusMinus}${tail}`;
}

/** The same for a table: on a narrow screen the ± has a line of its own, so that no column is cut off. */
export function FigureCell({ name, figure }: { name: string; figure: CoreFigure }) {
  const [value = '', plusMinus] = figureText(name, figure).split(`${NBSP}±`);
  return (
    <>
      {value}
      {plusMinus && <span class="own-line">{`${NBSP}±${plusMinus}`}</span>}
    </>
  );
}

export function FigureView({ name, figure, lead, beside }: { name: string; figure: CoreFigure; lead?: boolean; beside?: string }) {
  const { symbol, label, unit, scale } = figureWords(name);
  const has = figure.half_width_95 != null;
  const rounded = has ? pair(figure.value / scale, (figure.half_width_95 ?? 0) / scale) : undefined;
  return (
    <div class={`figure ${lead ? 'lead' : ''} ${rounded && rounded.value.length > 5 ? 'long' : ''}`}>
      <div class="what">
        {symbol && <Symbol of={symbol} />} <span>{label}</span>
      </div>
      <div class="number">
        <span class="value">{rounded ? rounded.value : asSet(figure.value / scale)}</span>
        {rounded ? (
          <span class="plus-minus">
            ±{NBSP}
            {rounded.plusMinus}
            {unit && <span class="unit">{NBSP + unit}</span>}
          </span>
        ) : (
          unit && <span class="plus-minus bare-unit">{unit}</span>
        )}
      </div>
      {!has && figure.reason && <p class="beside">{`${words.noUncertainty} ${figure.reason}`}</p>}
      {beside && <p class="beside">{beside}</p>}
    </div>
  );
}
