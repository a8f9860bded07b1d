// A job on the screen: every change is written at once and can be undone until the screen is left.
import { useEffect, useRef, useState } from 'preact/hooks';
import { jobById, saveJob, type Job } from './jobs';

export interface OpenJob {
  job: Job;
  /** Writes the changed job. `said`: what the way back is offered with; without it the change is not offered for undoing. */
  change: (act: (job: Job) => Job, said?: string) => void;
  /** The last change that can be undone, in words. */
  undone: { said: string; undo: () => void } | undefined;
  /** Nothing waits to be written. */
  saved: boolean;
}

/** None while it is fetched; `missing` where there is no such job. */
export function useJob(id: string): OpenJob | 'missing' | undefined {
  const [job, setJob] = useState<Job | 'missing'>();
  const [before, setBefore] = useState<{ said: string; job: Job }>();
  const [waiting, setWaiting] = useState(0);
  const latest = useRef<Job>();
  // One after the other, so that an earlier state never overtakes a later one.
  const writing = useRef<Promise<unknown>>(Promise.resolve());
  useEffect(() => {
    void jobById(id).then((found) => {
      latest.current = found;
      setJob(found ?? 'missing');
    });
  }, [id]);
  if (job === undefined || job === 'missing') return job;
  const write = (next: Job) => {
    latest.current = next;
    setJob(next);
    setWaiting((n) => n + 1);
    writing.current = writing.current.then(() => saveJob(next)).finally(() => setWaiting((n) => n - 1));
  };
  const change = (act: (job: Job) => Job, said?: string) => {
    const now = latest.current ?? job;
    const next = act(now);
    if (next === now) return;
    setBefore(said === undefined ? undefined : { said, job: now });
    write(next);
  };
  const undo = () => {
    if (before) write(before.job);
    setBefore(undefined);
  };
  return { job, change, undone: before && { said: before.said, undo }, saved: waiting === 0 };
}
