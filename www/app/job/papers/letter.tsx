// The acceptance letter: for each driver what was asked, what came back, and what is to be put right.
import type { Cell, Part, Reason, Verdict } from '../../core/types.gen';
import { Rich } from '../../ui/symbol';
import { papersWords as w } from '../../words/papers';
import { jobWords } from '../../words/job';
import { partName } from '../part_words';
import { reasonText } from '../reason_words';
import type { OpenJob } from '../use_job';
import { cellsOf, figuresOf, usePaper, type PaperView } from './load';
import { Boxes, Lines, PaperHead, PaperSheet, Said, SignHere } from './sheet';
import { namesOf, paperDay, rowOf } from './texts';
import { dayText } from '../job_screen';

const l = w.letter;

interface Tested {
  part: Part;
  cells: Cell[];
  /** With the limit of R_e as it was ordered, where it is back. */
  reasons: Reason[];
  verdict: Verdict;
}

function tested(view: PaperView, part: Part): Tested {
  const cells = cellsOf(view, part.id);
  const figures = figuresOf(view, part.id);
  const r_e = figures?.ordered_r_e;
  const reasons = [...(r_e && r_e.value !== null ? [r_e] : []), ...cells.flatMap((c) => c.reasons)];
  return { part, cells, reasons, verdict: figures?.accepted ?? 'not_proven' };
}

export function LetterPaper({ open }: { open: OpenJob }) {
  const { job } = open;
  const view = usePaper(job);
  const all = view ? job.parts.filter((p) => p.kind === 'driver' && p.order.wanted).map((part) => tested(view, part)) : [];
  const of = (verdict: Verdict) => all.filter((t) => t.verdict === verdict);
  const names = (verdict: Verdict) => namesOf(job, of(verdict).map((t) => t.part.id));
  const opening = of('fail').length > 0 ? l.whole.fail(names('fail')) : of('not_proven').length > 0 ? l.whole.not_proven(names('not_proven')) : l.whole.pass;
  const returned = all.map((t) => t.part.order.returned_on).find(Boolean) ?? '';
  return (
    <PaperSheet open={open} name="letter">
      {view && (
        <>
          <PaperHead job={job} title={l.title} sub={all.map((t) => partName(t.part)).join(', ')} aside={paperDay(job)} />
          <Boxes
            boxes={[
              [w.job, job.number],
              [w.to, job.specialist],
              [w.from, [job.workshop, job.technician].filter(Boolean).join(', ')],
              [w.order.sentOn, dayText(all[0]?.part.order.sent_on ?? '')],
              [w.order.returnedOn, dayText(returned)],
            ]}
          />
          {all.length === 0 ? <p>{w.none}</p> : <p class="paper-summary">{opening}</p>}
          {all.map((t) => (
            <Told key={t.part.id} tested={t} />
          ))}
          <p class="paper-note">
            {l.conditions} {w.plusMinus}
          </p>
          <SignHere who={w.signed(job.workshop)} second={w.order.agreed} />
        </>
      )}
    </PaperSheet>
  );
}

function Told({ tested: { part, cells, reasons, verdict } }: { tested: Tested }) {
  const rows = reasons.flatMap((reason) => {
    const row = rowOf(reason);
    return row ? [{ ...row, verdict: reason.verdict }] : [];
  });
  const inWords = (wanted: Verdict) => [
    ...reasons.filter((r) => r.verdict === wanted && r.ground !== 'no_limit').map(reasonText),
    ...cells.filter((c) => c.set_aside?.verdict === wanted).map((c) => jobWords.override.said(jobWords.states[c.state], c.set_aside?.by ?? '', c.set_aside?.reason ?? '', jobWords.states[c.measured ?? 'found'])),
  ];
  const seen = reasons.filter((r) => r.verdict === 'pass' && r.ground === 'finding').map(reasonText);
  return (
    <section class="letter-part">
      <h3>
        {partName(part)}
        <span class="what">{[part.model, part.mark].filter(Boolean).join(', ')}</span>
        <span class="decided">
          <Said state={verdict} />: {l.decided[verdict]}
        </span>
      </h3>
      {rows.length > 0 ? (
        <table class="paper-table">
          <thead>
            <tr>
              <th scope="col">{l.what}</th>
              <th scope="col" class="n">
                {l.sent}
              </th>
              <th scope="col" class="n">
                {l.met}
              </th>
              <th scope="col">{l.verdict}</th>
            </tr>
          </thead>
          <tbody>
            {rows.map((row, i) => (
              <tr key={i}>
                <th scope="row">
                  <Rich text={row.what} />
                </th>
                <td class="n">{row.sent}</td>
                <td class="n">{row.met}</td>
                <td>
                  <Said state={row.verdict} />
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      ) : (
        <p>{l.noReasons}</p>
      )}
      {seen.length > 0 && (
        <p class="paper-note">
          {l.lookRow}: {seen.join(' ')}
        </p>
      )}
      <div class="paper-columns">
        <Lines title={l.right} lines={inWords('fail').length > 0 ? inWords('fail') : [l.nothing]} />
        <Lines title={l.unproven} lines={inWords('not_proven').length > 0 ? inWords('not_proven') : [l.nothing]} />
      </div>
    </section>
  );
}
