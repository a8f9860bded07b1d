// The acceptance letter: pair by pair what was asked and what came back, then what is to be put right and what is not
// proven yet.
import type { Cell, Job, Part, Reason, Verdict } from '../../core/types.gen';
import { Rich } from '../../ui/symbol';
import { jobWords } from '../../words/job';
import { papersWords as w } from '../../words/papers';
import { dayText } from '../job_screen';
import { inner, partName } from '../part_words';
import { reasonText } from '../reason_words';
import type { OpenJob } from '../use_job';
import { cellsOf, figuresOf, groupsOut, usePaper, type PaperView } from './load';
import { Boxes, Lines, PaperHead, PaperSheet, Said, SideName, SignHere } from './sheet';
import { called, limitsText, metText, namesOf, paperDay, upToText } from './texts';

const l = w.letter;

interface Tested {
  part: Part;
  cells: Cell[];
  verdict: Verdict;
  /** R_e as it was ordered, once it is back. */
  ordered: Reason | undefined;
}

function tested(view: PaperView, part: Part): Tested {
  const figures = figuresOf(view, part.id);
  const r_e = figures?.ordered_r_e;
  return { part, cells: cellsOf(view, part.id), verdict: figures?.accepted ?? 'not_proven', ordered: r_e?.value != null ? r_e : undefined };
}

export function LetterPaper({ open }: { open: OpenJob }) {
  const { job } = open;
  const view = usePaper(job);
  const groups = view ? groupsOut(job, view).map((parts) => parts.map((part) => tested(view, part))) : [];
  const all = groups.flat();
  const names = (verdict: Verdict) => namesOf(job, all.filter((t) => t.verdict === verdict).map((t) => t.part.id));
  const opening = names('fail') ? l.whole.fail(names('fail')) : names('not_proven') ? l.whole.not_proven(names('not_proven')) : l.whole.pass;
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
          {groups.map((group) => (
            <GroupTable key={group[0]?.part.id} group={group} />
          ))}
          <div class="paper-columns">
            <Lines title={l.right} lines={inWords(job, view, all, 'fail')} />
            <Lines title={l.unproven} lines={inWords(job, view, all, 'not_proven')} />
            <Lines title={l.byHand} lines={byHand(all)} />
          </div>
          <p class="paper-note">
            {l.conditions} {w.plusMinus}
          </p>
          <SignHere who={w.signed(job.workshop)} second={w.order.agreed} />
        </>
      )}
    </PaperSheet>
  );
}

interface Row {
  key: string;
  what: string;
  sent: string;
  reason: Reason;
}

/** Rows of one driver: what was ordered, then the limits of its checks. What is of both stands apart. */
function rowsOf({ cells, ordered }: Tested): Row[] {
  const row = (reason: Reason, by: string): Row => {
    const what = [called(reason.name), by].filter(Boolean).join(', ');
    return { key: `${what} ${limitsText(reason)}`, what, sent: limitsText(reason), reason };
  };
  const held = cells.flatMap((cell) => cell.reasons.filter((r) => r.ground === 'reference').map((r) => row(r, l.by[cell.check])));
  return [...(ordered ? [row(ordered, l.asOrdered)] : []), ...held];
}

function GroupTable({ group }: { group: Tested[] }) {
  const [first] = group;
  if (!first) return null;
  const rows = group.map(rowsOf);
  const keys = [...new Map(rows.flat().map((r) => [r.key, r])).values()];
  const pairRows = group.length === 2 ? first.cells.flatMap((c) => c.reasons).filter((r) => r.ground === 'partner') : [];
  return (
    <section class="letter-part">
      <table class="paper-table">
        <thead>
          <tr>
            <th scope="col">{l.what}</th>
            <th scope="col" class="n">
              {l.sent}
            </th>
            {group.map((t) => (
              <th key={t.part.id} scope="col" class="named">
                <b class="serif">{partName(t.part)}</b>
                <span class="what">{[t.part.model, t.part.mark].filter(Boolean).join(', ')}</span>
                <Said state={t.verdict} word={l.decided[t.verdict]} />
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {keys.map(({ key, what, sent }) => (
            <tr key={key}>
              <th scope="row">
                <Rich text={what} />
              </th>
              <td class="n">{sent}</td>
              {rows.map((own, i) => (
                <td key={i}>
                  <SideName name={partName(group[i]?.part ?? first.part)} />
                  <Met reason={own.find((r) => r.key === key)?.reason} />
                </td>
              ))}
            </tr>
          ))}
          {pairRows.map((reason) => (
            <tr key={reason.name}>
              <th scope="row">
                <Rich text={called(reason.name)} />, {l.ofBoth}
              </th>
              <td class="n">{upToText(reason)}</td>
              <td colSpan={2}>
                <Met reason={reason} />
              </td>
            </tr>
          ))}
          <tr>
            <th scope="row">{l.other}</th>
            <td />
            {group.map((t) => (
              <td key={t.part.id}>
                <SideName name={partName(t.part)} />
                {seen(t) || l.noReasons}
              </td>
            ))}
          </tr>
        </tbody>
      </table>
    </section>
  );
}

const Met = ({ reason }: { reason: Reason | undefined }) => (reason ? <Said state={reason.verdict} word={`${metText(reason)}: ${jobWords.states[reason.verdict]}`} /> : <>–</>);

/** What passed that has no number to meet. */
const seen = ({ cells }: Tested): string =>
  cells
    .flatMap((c) => c.reasons)
    .filter((r) => r.verdict === 'pass' && r.ground === 'finding')
    .map(reasonText)
    .join(' ');

/** Each reason with the parts that it is about; what is of both of a pair is told once. */
function inWords(job: Job, view: PaperView, all: Tested[], wanted: 'fail' | 'not_proven'): string[] {
  const parts = new Map<string, string[]>();
  const say = (text: string, part: string) => parts.set(text, [...(parts.get(text) ?? []), part]);
  for (const { part, cells, ordered } of all) {
    if (ordered?.verdict === wanted) say(`${l.asOrdered}: ${reasonText(ordered)}`, part.id);
    for (const cell of cells) {
      if (cell.set_aside) continue;
      const against = cell.reasons.filter((r) => r.verdict === wanted && r.ground !== 'no_limit');
      if (against.length > 0) say(`${jobWords.checks[cell.check]}: ${against.map(reasonText).join(' ')}`, part.id);
    }
  }
  const toDo = wanted === 'not_proven' ? view.summary.items.filter((i) => i.state === 'to_do' && all.some((t) => t.part.id === i.part)) : [];
  for (const { part, check } of toDo) say(`${jobWords.checks[check]}: ${l.notTested}`, part);
  const lines = [...parts].map(([text, ids]) => `${namesOf(job, ids)}: ${inner(text)}`);
  return lines.length > 0 ? lines.map((line) => line.charAt(0).toUpperCase() + line.slice(1)) : [l.nothing];
}

const byHand = (all: Tested[]): string[] =>
  all.flatMap(({ part, cells }) =>
    cells.flatMap((cell) => (cell.set_aside ? [w.record.byHandLine(partName(part), jobWords.checks[cell.check], jobWords.states[cell.state], cell.set_aside.by, cell.set_aside.reason, jobWords.states[cell.measured ?? 'to_do'])] : [])),
  );
