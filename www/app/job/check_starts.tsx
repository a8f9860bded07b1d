// The ways in which a check of the job can be taken with what stands on the bench.
import { useEffect, useState } from 'preact/hooks';
import type { Cell, Job, JobCheck, Part } from '../core/types.gen';
import { Button } from '../ui/controls';
import { href } from '../ui/route';
import { words } from '../words/common';
import { jobWords } from '../words/job';
import { loadBench, type MyBench } from './keeping';
import { missingFor, type Item } from './offers';

interface Way {
  label: string;
  check: string;
  sensor?: 'coil' | 'microphone';
  needs: Item[];
}

const c = words.checks;
/** Best first. */
const WAYS: Partial<Record<JobCheck, Way[]>> = {
  polarity: [
    { label: c.polarity_push, check: 'polarity', sensor: 'coil', needs: ['cable'] },
    { label: c.polarity_pulse, check: 'polarity', sensor: 'microphone', needs: ['microphone', 'amplifier'] },
  ],
  knock: [
    { label: c.knock_coil, check: 'knock', sensor: 'coil', needs: ['cable'] },
    { label: c.knock_microphone, check: 'knock', sensor: 'microphone', needs: ['microphone'] },
  ],
  impedance: [
    { label: c.impedance, check: 'impedance', needs: ['stereo', 'resistor'] },
    { label: c.impedance_one_channel, check: 'impedance_one_channel', needs: ['mono', 'resistor', 'second_resistor'] },
    { label: c.meter, check: 'meter', needs: ['meter', 'resistor'] },
    { label: c.impedance_by_microphone, check: 'impedance_by_microphone', sensor: 'microphone', needs: ['microphone', 'amplifier', 'resistor'] },
  ],
  weight: [
    { label: c.knock_coil, check: 'knock', sensor: 'coil', needs: ['cable'] },
    { label: c.impedance, check: 'impedance', needs: ['stereo', 'resistor'] },
  ],
};

export function CheckStarts({ job, part, cell, open }: { job: Job; part: Part; cell: Cell; open: boolean }) {
  const [bench, setBench] = useState<MyBench>();
  useEffect(() => void loadBench().then(setBench), []);
  const all = WAYS[cell.check];
  if (!all || !bench) return null;
  const ways = all.filter((way) => missingFor(way.needs, bench).length === 0);
  return (
    <details class="budgets" open={open}>
      <summary>{cell.reading ? jobWords.part.again : jobWords.part.start}</summary>
      {ways.length === 0 && <p class="note">{jobWords.startCheck.none}</p>}
      <div class="buttons across" role="group" aria-label={jobWords.startCheck.title}>
        {(ways.length ? ways : all).map((way, i) => (
          <Button key={way.label} kind={i === 0 && ways.length > 0 ? 'main' : 'plain'} href={href('setup', [way.check], { ...(way.sensor ? { sensor: way.sensor } : {}), job: job.id, part: part.id })}>
            {way.label}
          </Button>
        ))}
        <Button kind="quiet" href={href('practice', [], { job: job.id, part: part.id })}>
          {words.practiceBench}
        </Button>
        <Button kind="quiet" href={href('recording', [], { job: job.id, part: part.id })}>
          {words.checks.recording}
        </Button>
      </div>
    </details>
  );
}
