// The sum of a job in plain words.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import type { Job, Summary } from '../../../www/app/core/types.gen';
import { newJob, newPart } from '../../../www/app/job/jobs';
import { summaryText } from '../../../www/app/job/papers/summary_text';

const job: Job = newJob({ parts: [newPart({ id: 'l', side: 'left', band: 'Bass' }), newPart({ id: 'r', side: 'right', band: 'Bass' })] });
type Item = Summary['items'][number];
const item = (part: string, check: Item['check'], state: Item['state'], by_hand = false): Item => ({ part, check, state, by_hand });
const line = { name: 'f_s_hz', percent: -8.4, half_width_95_percent: 0.2, allowed_percent: 6, verdict: 'too_far_apart' as const };
const sum = (whole: Summary['whole'], items: Item[], changes: Partial<Summary['groups'][number]> = {}): Summary => ({
  whole,
  items,
  refused: [],
  figures: [],
  groups: [{ kind: 'driver', band: 'Bass', parts: ['l', 'r'], verdict: whole, pair: null, lines: [], figures: [], ...changes }],
});

test('what passed, what did not, and how many', () => {
  assert.equal(summaryText(job, sum('pass', [])), 'Everything that was measured passed every check.');
  assert.equal(summaryText(job, sum('not_proven', [])), 'Nothing failed, but not all of it is proven: there was nothing to hold the figures against.');
  const open = sum('not_proven', [item('l', 'coil', 'not_proven'), item('r', 'coil', 'not_proven'), item('l', 'knock', 'refused'), item('l', 'polarity', 'to_do')]);
  assert.equal(summaryText(job, open), 'Nothing failed, but not all of it is proven: 2 checks are not proven, one check was refused and not taken again and one check was not done.');
});

test('the match of a pair is one check, and its worst difference is told; a verdict by hand is always told', () => {
  const failed = sum('fail', [item('l', 'match', 'fail'), item('r', 'match', 'fail'), item('r', 'look', 'pass', true)], { pair: 'too_far_apart', lines: [line] });
  assert.equal(
    summaryText(job, failed),
    'Not all is well: one check failed. The two bass drivers are too far apart: 8\u00a0% apart in {f_s}, where 6\u00a0% is allowed. One verdict was set by hand; the reason stands below.',
  );
});
