// The grid: a row each part, a column each check. On a narrow screen one pair at a time, checks as rows.
import type { Apart, Cell, Group, Job, JobCheck, Overview, Part } from '../core/types.gen';
import { NBSP } from '../ui/format';
import { href } from '../ui/route';
import { jobWords } from '../words/job';
import { groupName, partName } from './part_words';
import { apartText, cellText } from './reason_words';
import { CellMark, Key } from './state_marks';

const w = jobWords.grid;
const COLUMNS: JobCheck[] = ['look', 'coil', 'polarity', 'knock', 'impedance', 'weight', 'match'];

interface Props {
  job: Job;
  overview: Overview;
}

export function Grid(props: Props) {
  return (
    <>
      <div class="grid-wide">
        <WideGrid {...props} />
      </div>
      <div class="grid-narrow">
        {props.overview.groups.map((group, i) => (
          <NarrowGroup key={group.rows[0]?.part} {...props} group={group} open={i === openAt(props.overview)} />
        ))}
      </div>
      <Key />
    </>
  );
}

/** The group with the next step, else the first. */
function openAt({ groups, next }: Overview): number {
  const at = groups.findIndex((group) => group.rows.some((row) => row.part === next?.part));
  return at < 0 ? 0 : at;
}

/** Columns that apply to some part. */
const columnsOf = ({ groups }: Overview) => COLUMNS.filter((check) => groups.some((g) => g.rows.some((r) => r.cells.some((c) => c.check === check))));

function WideGrid({ job, overview }: Props) {
  const columns = columnsOf(overview);
  return (
    <table class="grid">
      <caption class="unheard">{w.title}</caption>
      <thead>
        <tr>
          <th scope="col">
            <span class="unheard">{w.part}</span>
          </th>
          {columns.map((check) => (
            <th key={check} scope="col">
              {jobWords.checks[check]}
            </th>
          ))}
        </tr>
      </thead>
      {overview.groups.map((group) => (
        <tbody key={group.rows[0]?.part}>
          {group.rows.map((row) => {
            const part = job.parts.find((p) => p.id === row.part);
            if (!part) return null;
            return (
              <tr key={row.part}>
                <th scope="row">
                  <a href={href('job', [job.id, 'part', part.id])}>{partName(part)}</a>
                  <span class="note">{[part.model, part.mark].filter(Boolean).join(', ')}</span>
                </th>
                {columns.map((check) => {
                  const cell = row.cells.find((c) => c.check === check);
                  return cell ? (
                    <td key={check} class={isNext(overview, row.part, check) ? 'is-next' : ''}>
                      <CellLink job={job} part={part} cell={cell} next={isNext(overview, row.part, check)} />
                    </td>
                  ) : (
                    <td key={check} class="none" />
                  );
                })}
              </tr>
            );
          })}
          {group.partners && group.partners.apart.length > 0 && (
            <tr class="apart">
              <th scope="row">{w.apart}</th>
              {columns.map((check) => (
                <td key={check}>{apartOf(group, check)}</td>
              ))}
            </tr>
          )}
        </tbody>
      ))}
    </table>
  );
}

const isNext = ({ next }: Overview, part: string, check: JobCheck) => next?.part === part && next.check === check;

function apartOf(group: Group, check: JobCheck): string {
  const found: Apart | undefined = group.partners?.apart.find((a) => a.check === check);
  return found ? apartText(found.percent) : '';
}

/** The word stands beside the mark but for pass and to do, which are told by the mark; spoken are all. */
function CellLink({ job, part, cell, next, words }: { job: Job; part: Part; cell: Cell; next: boolean; words?: boolean }) {
  const text = cellText(cell);
  const state = jobWords.states[cell.state];
  const silent = !words && (cell.state === 'pass' || cell.state === 'to_do' || cell.state === 'found');
  return (
    <a class="cell" href={href('job', [job.id, 'part', part.id], { check: cell.check })} aria-label={w.cell(partName(part), jobWords.checks[cell.check], next ? w.next : state, text)}>
      <CellMark state={next ? 'next' : cell.state} size={24} />
      <span class="cell-text">
        {/* A narrow cell may break before the ±. */}
        {text && <b>{words ? text.replace(`${NBSP}±`, ' ±') : text}</b>}
        {next ? <b>{w.next}</b> : !(silent || (words && text && cell.state === 'pass')) && <span>{state}</span>}
      </span>
    </a>
  );
}

function NarrowGroup({ job, overview, group, open }: Props & { group: Group; open: boolean }) {
  const parts = group.rows.flatMap((row) => job.parts.filter((p) => p.id === row.part));
  const [first] = parts;
  if (!first) return null;
  const alone = parts.length === 1;
  const cells = group.rows.flatMap((row) => row.cells);
  const columns = COLUMNS.filter((check) => cells.some((c) => c.check === check));
  return (
    <details class="grid-group" open={open}>
      <summary>
        <span class="name">{alone ? partName(first) : groupName(first)}</span>
        <Counts cells={cells} />
      </summary>
      <p class="note models">{first.model}</p>
      <table class="grid narrow">
        <caption class="unheard">{`${w.title}: ${groupName(first)}`}</caption>
        <thead>
          <tr>
            <th scope="col">
              <span class="unheard">{jobWords.part.verdicts}</span>
            </th>
            {parts.map((part) => (
              <th key={part.id} scope="col">
                <a href={href('job', [job.id, 'part', part.id])}>{alone ? partName(part) : w[part.side === 'right' ? 'right' : 'left']}</a>
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {columns.map((check) => (
            <tr key={check}>
              <th scope="row">
                {jobWords.checks[check]}
                {apartOf(group, check) && <span class="note">{`${apartOf(group, check)} ${w.apart}`}</span>}
              </th>
              {group.rows.map((row) => {
                const part = parts.find((p) => p.id === row.part);
                const cell = row.cells.find((c) => c.check === check);
                const next = isNext(overview, row.part, check);
                return (
                  <td key={row.part} class={next ? 'is-next' : ''}>
                    {part && cell && <CellLink job={job} part={part} cell={cell} next={next} words />}
                  </td>
                );
              })}
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  );
}

function Counts({ cells }: { cells: Cell[] }) {
  const states = ['pass', 'found', 'not_proven', 'fail', 'refused', 'to_do'] as const;
  return (
    <span class="counts">
      {states.map((state) => {
        const n = cells.filter((c) => c.state === state).length;
        return (
          n > 0 && (
            <span key={state}>
              <CellMark state={state} size={20} /> {n}
              <span class="unheard">{` ${jobWords.states[state]}`}</span>
            </span>
          )
        );
      })}
    </span>
  );
}
