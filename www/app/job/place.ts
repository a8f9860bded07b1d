// The part of a job that a check is taken for, as addresses carry it.
import { useEffect, useState } from 'preact/hooks';
import { href } from '../ui/route';
import { jobById } from './jobs';
import type { Place } from './keeping';
import { partName } from './part_words';

export function placeOf(query: URLSearchParams): Place | undefined {
  const [job, part] = [query.get('job'), query.get('part')];
  return job && part ? { job, part } : undefined;
}

/** Query of an address that goes on for the same part. */
export const placeQuery = (place: Place | undefined): Record<string, string> => (place ? { job: place.job, part: place.part } : {});

/** Where the way back leads: to the part, else to the start. */
export const backOf = (place: Place | undefined): string => (place ? href('job', [place.job, 'part', place.part]) : href(''));

/** Name of the part: empty where there is none, none while it is fetched. */
export function usePlaceName(place: Place | undefined): string | undefined {
  const [name, setName] = useState(place ? undefined : '');
  useEffect(() => {
    if (!place) return;
    void jobById(place.job).then((job) => {
      const part = job?.parts.find((p) => p.id === place.part);
      setName(part ? [partName(part), part.model].filter(Boolean).join(', ') : '');
    });
  }, []);
  return name;
}
