// What readings, takes and photos look like in files and links. Curves are lists of numbers there, none as null.
import type { Code, Contribution, Figure, Notice, Reading, TakeUse } from '../core/types.gen';
import type { KeptReading, KeptTake, PracticeOrigin } from '../store/store';
import { Misfit, id, list, moment, named, nullable, number, object, oneOf, record, text, whole, type Shape } from './plain';

const SHORT = 400;
const source = oneOf('live', 'practice', 'recording');
const maybe = nullable(number);

const contribution: Shape<Contribution> = record<Contribution>({ source: text(SHORT), effect: number, common: flag });
export const figure: Shape<Figure> = record<Figure>({ value: number, standard_uncertainty: maybe, half_width_95: maybe, reason: nullable(text()), budget: list(contribution, 500) });
export const notice: Shape<Notice> = record<Notice>({ code: text(80) as Shape<Code>, message: text(), remedy: text(), numbers: named(number) });

function flag(value: unknown, place: string): boolean {
  if (typeof value !== 'boolean') throw new Misfit(place, 'true or false is wanted');
  return value;
}

/** A column of a curve; where a number was missing there is none again. */
const column: Shape<Float64Array> = (value, place) => Float64Array.from(list(nullable(number), 200_000)(value, place), (n) => n ?? NaN);

export const curves: Shape<Reading['curves']> = (value, place) => {
  const all = named(named(column))(value, place);
  for (const [name, columns] of Object.entries(all)) {
    const lengths = new Set(Object.values(columns).map((c) => c.length));
    if (lengths.size > 1) throw new Misfit(`${place}.${name}`, 'columns of one length are wanted');
  }
  return all as Reading['curves'];
};

/** A reading of another check could not be shown. */
export const check = oneOf('impedance', 'impedance_one_channel', 'impedance_by_microphone', 'knock', 'pair', 'meter', 'polarity', 'loose_joint');

const reading: Shape<Reading> = record<Reading>({
  schema: whole(1),
  check,
  outcome: oneOf('reading', 'doubtful', 'refused'),
  values: named(figure),
  alongside: named(figure),
  chosen: named(text()) as Shape<Reading['chosen']>,
  curves,
  warnings: list(notice, 100),
  refusal: nullable(notice),
  computed_with: record<Reading['computed_with']>({ version: text(80), method: text() }),
});

const use: Shape<TakeUse> = record<TakeUse>({ id, role: text(80), resistor_ohm: maybe, load_ohm: maybe, added_mass_kg: maybe, box_volume_m3: maybe, set_aside: list(whole(100_000), 10_000) });

const practice: Shape<PracticeOrigin> = record<PracticeOrigin>({ driver: text(80), fault: text(80), seed: number });

export const keptReading: Shape<KeptReading> = record<KeptReading>(
  { id, createdAt: moment, check, partName: text(SHORT), note: text(), source, takes: list(use, 500), setup: object, reading },
  { practice } as never,
);

/** A take as it stands beside its WAV file. */
export type TakeAbout = Omit<KeptTake, 'bytes' | 'rateHz' | 'channelCount' | 'frames' | 'deletedAt'>;

export const takeAbout: Shape<TakeAbout> = record<TakeAbout>(
  { id, createdAt: moment, check: text(80), role: text(80), partName: text(SHORT), source, resistor_ohm: maybe, load_ohm: maybe, added_mass_kg: maybe },
  { box_volume_m3: maybe, stimulus: object, practice, fileName: text(SHORT), facts: object } as never,
);

export interface PhotoAbout {
  id: string;
  createdAt: number;
  width: number;
  height: number;
}
export const photoAbout: Shape<PhotoAbout> = record<PhotoAbout>({ id, createdAt: moment, width: whole(20_000), height: whole(20_000) });

/** JSON of what is kept: curves as plain lists. */
export const plainJson = (value: unknown): string => JSON.stringify(value, (_name, field: unknown) => (ArrayBuffer.isView(field) ? Array.from(field as unknown as number[]) : field));
