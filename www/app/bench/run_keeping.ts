// A check under way, and refusals on the way, as they are kept.
import type { Happening, Notice, PageTake, TakeUse } from '../core/types.gen';
import { endRun, keepReading, keepRun, type KeptReading, type KeptRun } from '../job/keeping';
import { newId } from '../store/store';
import { setupOf } from './analysis';
import { refusalReading, type CheckName } from './core_calls';
import type { CheckOptions } from './check_runner';

/** A check under way that goes on. */
export interface Resume {
  run: KeptRun;
  takes: Map<string, PageTake>;
}

/** Writes the run down whenever something happened that counts, from the first take until the reading. */
export class RunKeeping {
  private readonly id: string;
  private readonly createdAt: number;

  constructor(private readonly options: CheckOptions<CheckName>) {
    this.id = options.resume?.run.id ?? newId();
    this.createdAt = options.resume?.run.createdAt ?? Date.now();
  }

  note(history: Happening[], ends: boolean): void {
    const last = history[history.length - 1];
    if (!last || last.kind === 'heard' || !history.some((h) => h.kind === 'took' || (h.kind === 'confirmed' && (h.step === 'tone' || h.step === 'readings')))) return;
    if (ends) return void endRun(this.id);
    const { check, partName, hands, bench } = this.options;
    void keepRun({ id: this.id, createdAt: this.createdAt, changedAt: Date.now(), check, partName, source: hands.kind, bench: { ...bench }, history: thinned(history), ...originOf(this.options) });
  }
}

/** What a reading or a run comes from beside the hands. */
export function originOf({ practice, place }: CheckOptions<CheckName>): Pick<KeptRun, 'practice' | 'place'> {
  return { ...(practice ? { practice } : {}), ...(place ? { place } : {}) };
}

/** Of the knocks heard during a take only the last list counts. */
function thinned(history: Happening[]): Happening[] {
  return history.filter((h, i) => h.kind !== 'heard' || history[i + 1]?.kind === 'took');
}

/** A refusal before there was anything to read: the last take stays in the list, with the reason. */
export async function keepRefusal(options: CheckOptions<CheckName>, history: Happening[], notice: Notice): Promise<KeptReading | undefined> {
  const last = history.flatMap((h) => (h.kind === 'took' ? [h.take] : [])).pop();
  if (!last) return undefined;
  const { check, bench, partName, hands, extra = {} } = options;
  const use: TakeUse = { id: last.id, role: last.role, resistor_ohm: last.resistor_ohm, load_ohm: last.load_ohm, added_mass_kg: last.added_mass_kg, box_volume_m3: last.box_volume_m3, set_aside: [] };
  const reading = await refusalReading(check, notice);
  return keepReading({ check, partName, note: '', source: hands.kind, takes: [use], setup: setupOf(check, bench, extra), reading, ...originOf(options) });
}
