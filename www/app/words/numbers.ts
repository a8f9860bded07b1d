// The numbers of a notice, by name with unit, as rows of words.
import { fixed, NBSP, significant } from '../ui/format';
import { figureWords } from './figures';

const LABELS: Record<string, string> = {
  peak_dbfs: 'Highest level',
  fell_by_db: 'Fell by',
  allowed_db: 'Allowed',
  clipped_samples: 'Tops cut off',
  frequency_hz: 'At',
  knocks: 'Knocks found',
  wanted: 'Knocks wanted',
  channel: 'Channel',
  limit: 'Limit',
};

export interface NumberRow {
  label: string;
  value: string;
}

/** Words for one number of a notice; an unknown name is spelled out with the unit its tail carries. */
export function numberRow(name: string, value: number): NumberRow {
  const { label, unit, scale } = figureWords(name);
  const shown = value / scale;
  const text = Number.isInteger(shown) ? fixed(shown, 0) : significant(shown, 3).replace(/(\.\d*?)0+$/, '$1').replace(/\.$/, '');
  const tail = unit === '' ? '' : unit === '°' ? unit : NBSP + unit;
  const said = LABELS[name] ?? label.charAt(0).toUpperCase() + label.slice(1);
  return { label: name.endsWith('_dbfs') ? `${said}, from full scale` : said, value: text + tail };
}
