// The limits within a pair as they hold for a job: common practice, where the job sets no other.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../../core/client';
import type { Job, PairLimit } from '../../core/types.gen';

export function usePairLimits(job: Job): PairLimit[] {
  const [common, setCommon] = useState<PairLimit[]>([]);
  useEffect(() => void core.pairLimits().then((limits) => setCommon(limits)), []);
  return common.map((limit) => job.pair_limits.find((own) => own.name === limit.name) ?? limit);
}
