// The limits within a pair that this job is judged by; those that differ from common practice stand in its record.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../core/client';
import type { PairLimit } from '../core/types.gen';
import { Limits, limitsOf, startLimits, type LimitState } from '../match/limits';
import { jobWords } from '../words/job';
import type { OpenJob } from './use_job';

export function JobLimits({ open: { job, change } }: { open: OpenJob }) {
  const [common, setCommon] = useState<PairLimit[]>([]);
  const [states, setStates] = useState<LimitState[]>();
  useEffect(() => {
    void core.pairLimits().then((limits) => {
      setCommon(limits);
      setStates(startLimits(limits.map((l) => job.pair_limits.find((own) => own.name === l.name) ?? l)));
    });
  }, []);
  if (!states) return null;
  const put = (next: LimitState[]) => {
    setStates(next);
    // What is no number, or the wrong way round, is said and not kept.
    const limits = limitsOf(next);
    if (limits) change((now) => ({ ...now, pair_limits: limits.filter((l) => !common.some((c) => c.name === l.name && c.good === l.good && c.acceptable === l.acceptable)) }));
  };
  return (
    <div>
      <Limits states={states} onStates={put} onDefaults={() => put(startLimits(common))} />
      <p class="note">{jobWords.limits.help}</p>
    </div>
  );
}
