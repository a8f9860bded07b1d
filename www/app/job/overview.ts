// The job and its readings, handed to the core for the overview.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../core/client';
import type { Job, JobReading, Overview } from '../core/types.gen';
import { partOf } from '../match/candidates';
import { readingById, type KeptReading } from './keeping';

export interface JobView {
  overview: Overview;
  /** Readings filed in the job that are still kept. */
  readings: Map<string, KeptReading>;
}

/** None until the core has answered for the first time. */
export function useOverview(job: Job | undefined): JobView | undefined {
  const [view, setView] = useState<JobView>();
  // Texts of the card change nothing in the verdicts.
  const key = job && JSON.stringify([job.parts, job.pair_limits]);
  useEffect(() => {
    if (!job) return;
    let current = true;
    const wait = setTimeout(() => void viewOf(job).then((next) => current && setView(next)), view ? 200 : 0);
    return () => {
      current = false;
      clearTimeout(wait);
    };
  }, [key]);
  return view;
}

export async function viewOf(job: Job): Promise<JobView> {
  const ids = [...new Set(job.parts.flatMap((part) => part.filed.map((f) => f.reading)))];
  const found = (await Promise.all(ids.map(readingById))).filter((kept): kept is KeptReading => kept !== undefined);
  const overview = await core.jobOverview({ job, readings: found.map(jobReading) });
  return { overview, readings: new Map(found.map((kept) => [kept.id, kept])) };
}

export function jobReading(kept: KeptReading): JobReading {
  const { reading } = kept;
  return {
    id: kept.id,
    created_at_ms: kept.createdAt,
    check: kept.check,
    part: partOf(kept, kept.partName),
    chosen: reading.chosen,
    warnings: [...reading.warnings, ...(reading.refusal ? [reading.refusal] : [])].map((notice) => notice.code),
    refusal: reading.refusal?.message ?? null,
    jig: jigOf(kept),
  };
}

/** Fields of a setup that belong to the part and not to the jig. */
const OF_THE_PART = ['r_e_ohm', 'effective_diameter_m', 'driver_displacement_m3', 'band_hz', 'coil_model', 'suspension_creep', 'readings'];

/** Practice and live are two jigs, and so are two setups. */
export function jigOf(kept: KeptReading): string {
  const own = Object.entries(kept.setup).filter(([name]) => !OF_THE_PART.includes(name));
  return JSON.stringify([kept.source, own.sort(([a], [b]) => (a < b ? -1 : 1))]);
}
