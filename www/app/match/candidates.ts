// Which kept readings can be matched, and how they are handed to the core. Nothing is computed here.
import { column } from '../bench/curves';
import { titleOf } from '../bench/kept_screen';
import type { MatchPart } from '../core/types.gen';
import type { KeptReading } from '../job/keeping';
import { when } from '../job/when';

/** By check and sensor: only the like is compared. */
export interface Group {
  title: string;
  readings: KeptReading[];
}

/** Groups of two and more, the largest first. */
export function groupsOf(list: KeptReading[]): Group[] {
  const groups = new Map<string, KeptReading[]>();
  for (const kept of list) {
    if (kept.reading.outcome !== 'reading' || !kept.reading.values['f_s_hz']) continue;
    const title = titleOf(kept);
    groups.set(title, [...(groups.get(title) ?? []), kept]);
  }
  const whole = [...groups].filter(([, readings]) => readings.length > 1);
  return whole.map(([title, readings]) => ({ title, readings })).sort((a, b) => b.readings.length - a.readings.length);
}

/** A name that tells it from its namesakes. */
export function nameOf(kept: KeptReading, among: KeptReading[]): string {
  const namesakes = among.filter((k) => k.partName === kept.partName);
  return namesakes.length > 1 ? `${kept.partName} (${when(kept.createdAt)})` : kept.partName;
}

export function partOf(kept: KeptReading, name: string): MatchPart {
  const numbers = (of: string) => Array.from(column(kept.reading, 'impedance', of) ?? []);
  return {
    name,
    check: titleOf(kept),
    outcome: kept.reading.outcome,
    values: kept.reading.values,
    frequency_hz: numbers('frequency_hz'),
    magnitude_ohm: numbers('magnitude_ohm'),
    magnitude_standard_uncertainty_ohm: numbers('magnitude_standard_uncertainty_ohm'),
  };
}
