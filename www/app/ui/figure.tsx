// A figure with its ±; both end at the same decimal place.
import type { Figure as CoreFigure } from '../core/types.gen';
import { asSet, NBSP, pair, plusMinus } from './format';
import { figureWords } from '../words/figures';
import { words } from '../words/common';
import { Symbol } from './symbol';

/** Text of a figure in the unit shown, for lists and tables. */
export function figureText(name: string, figure: Pick<CoreFigure, 'value' | 'half_width_95'>): string {
  const { unit, scale } = figureWords(name);
  const half = figure.half_width_95 == null ? null : figure.half_width_95 / scale;
  return plusMinus(figure.value / scale, half, unit ? NBSP + unit : '');
}

/** The same for a table: on a narrow screen the ± has a line of its own, so that no column is cut off. */
export function FigureCell({ name, figure }: { name: string; figure: CoreFigure }) {
  const [value = '', after] = figureText(name, figure).split(`${NBSP}±`);
  return (
    <>
      {value}
      {after && <span class="own-line">{`${NBSP}±${after}`}</span>}
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
