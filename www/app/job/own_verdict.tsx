// A person's own verdict on a check, with the reason; what was measured stays beside it.
import { useState } from 'preact/hooks';
import type { Cell, Verdict } from '../core/types.gen';
import { Button, Choice, TextEntry } from '../ui/controls';
import { jobWords } from '../words/job';
import type { PartProps } from './part_screen';

const w = jobWords.override;
const VERDICTS: Verdict[] = ['pass', 'not_proven', 'fail'];

export function OwnVerdict({ open: { job }, change, cell }: PartProps & { cell: Cell }) {
  const [writing, setWriting] = useState(false);
  const [verdict, setVerdict] = useState<Verdict>('pass');
  const [reason, setReason] = useState('');
  const [by, setBy] = useState(job.technician);
  if (cell.set_aside) {
    return (
      <button type="button" class="text-button" onClick={() => change((p) => ({ ...p, overrides: p.overrides.filter((o) => o.check !== cell.check) }), w.dropped)}>
        {w.drop}
      </button>
    );
  }
  // Nothing was found yet: there is nothing to set aside.
  if (cell.state === 'to_do') return null;
  const keep = () => {
    change((p) => ({ ...p, overrides: [...p.overrides, { check: cell.check, verdict, reason: reason.trim(), by: by.trim(), at_ms: Date.now() }] }), w.kept);
    setWriting(false);
  };
  return (
    <>
      <button type="button" class="text-button" aria-expanded={writing} onClick={() => setWriting(!writing)}>
        {w.open}
      </button>
      {writing && (
        <div class="own-verdict">
          <Choice legend={w.title(jobWords.checks[cell.check])} options={VERDICTS.map((id) => ({ id, label: jobWords.states[id] }))} value={verdict} onChange={(id) => setVerdict(id as Verdict)} />
          <TextEntry label={w.reason} text={reason} onText={setReason} />
          <TextEntry label={w.by} text={by} onText={setBy} />
          <Button kind="plain" onPress={keep} {...(reason.trim() ? {} : { notYet: w.wantsReason })}>
            {w.keep}
          </Button>
        </div>
      )}
    </>
  );
}
