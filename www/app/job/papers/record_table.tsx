// The table of the record: a row a figure and a check, left and right beside each other, how far apart, and the verdict.
import type { Cell, CellState, FigureLine, GroupSummary, Job, JobCheck, Stated } from '../../core/types.gen';
import { Rich } from '../../ui/symbol';
import { figureWords } from '../../words/figures';
import { jobWords } from '../../words/job';
import { papersWords } from '../../words/papers';
import { apartText } from '../reason_words';
import { figureText } from '../../ui/figure';
import { groupName, partName } from '../part_words';
import { conditionsText } from '../filed_readings';
import { cellsOf, figuresOf, partOfId, type PaperView } from './load';
import { Said, SideName } from './sheet';
import { called, dayAt, namesOf } from './texts';

const w = papersWords.record;
const FIGURES = ['r_e_ohm', 'f_s_hz', 'q_ts', 'q_ms', 'z_max_ohm'];
const CHECKS: JobCheck[] = ['look', 'polarity', 'coil', 'knock', 'weight'];

export function RecordTable({ job, view }: { job: Job; view: PaperView }) {
  return (
    <table class="paper-table record-table">
      <thead>
        <tr>
          <th scope="col">{w.measured}</th>
          <th scope="col" class="n">
            {w.left}
          </th>
          <th scope="col" class="n">
            {w.right}
          </th>
          <th scope="col" class="n">
            {w.apart}
          </th>
          <th scope="col">{w.verdict}</th>
        </tr>
      </thead>
      {view.summary.groups.map((group) => (
        <GroupRows key={group.parts.join()} job={job} view={view} group={group} />
      ))}
    </table>
  );
}

interface Props {
  job: Job;
  view: PaperView;
  group: GroupSummary;
}

/** The columns that a part stands in: of a pair one each; alone by its side, or over both. */
const alone = (group: GroupSummary) => group.parts.length === 1;

function GroupRows({ job, view, group }: Props) {
  const parts = group.parts.flatMap((id) => partOfId(job, id) ?? []);
  const [first] = parts;
  if (!first) return null;
  const models = [...new Set(parts.map((p) => p.model).filter(Boolean))].join(', ');
  const marks = parts.map((p) => p.mark).filter(Boolean).join('; ');
  const title = alone(group) ? partName(first) : groupName(first);
  return (
    <tbody>
      <tr class="group">
        <th colSpan={5} scope="rowgroup">
          {[title, models].filter(Boolean).join(', ')} {marks && <span class="what">{marks}</span>}
        </th>
      </tr>
      {FIGURES.map((name) => (
        <FigureRow key={name} job={job} view={view} group={group} name={name} />
      ))}
      {CHECKS.map((check) => (
        <CheckRow key={check} view={view} group={group} check={check} />
      ))}
      {group.pair && <MatchRow view={view} group={group} />}
    </tbody>
  );
}

/** A cell a part; a part alone spans both columns. */
function Sides({ group, of }: { group: GroupSummary; of: (part: string) => preact.ComponentChildren }) {
  return (
    <>
      {group.parts.map((part, i) => (
        <td key={part} class="n" {...(alone(group) ? { colSpan: 2 } : {})}>
          {!alone(group) && <SideName name={i === 0 ? w.left : w.right} />}
          {of(part)}
        </td>
      ))}
    </>
  );
}

function FigureRow({ job, view, group, name }: Props & { name: string }) {
  const line = (part: string): FigureLine | undefined => figuresOf(view, part)?.lines.find((l) => l.name === name);
  if (!group.parts.some((part) => line(part)?.left ?? line(part)?.found)) return null;
  // Where nothing tells the total, the mechanical loss stands for it.
  const total = group.parts.some((part) => figuresOf(view, part)?.lines.some((l) => l.name === 'q_ts' && (l.left ?? l.found)));
  if (name === 'q_ms' && total) return null;
  const apart = group.lines.find((l) => l.name === name);
  const verdict = group.figures.find((f) => f.name === name)?.verdict;
  // One side that passes says nothing of the other.
  const missing = group.parts.some((part) => !(line(part)?.left ?? line(part)?.found));
  const text = (stated: Stated | null | undefined) => (stated ? figureText(name, stated.figure) : '–');
  return (
    <tr>
      <th scope="row">
        <Rich text={called(name)} /> {figureWords(name).label}
      </th>
      <Sides
        group={group}
        of={(part) => (
          <>
            {(line(part)?.left ?? !line(part)?.found) && <b>{text(line(part)?.left)}</b>}
            {(job.shown.before_and_after || !line(part)?.left) && line(part)?.found && <span class="as-found">{`${w.found} ${text(line(part)?.found)}`}</span>}
          </>
        )}
      />
      <td class="n">
        {apart && (
          <>
            <SideName name={w.apart} />
            {apartText(apart.percent)}
          </>
        )}
      </td>
      <td>
        <Said state={missing && (verdict ?? 'pass') === 'pass' ? 'to_do' : (verdict ?? 'found')} />
      </td>
    </tr>
  );
}

/** The heaviest state of both sides. */
const WEIGHT: CellState[] = ['fail', 'not_proven', 'refused', 'to_do', 'found', 'pass'];
const worst = (cells: Cell[]): CellState => WEIGHT.find((state) => cells.some((c) => c.state === state)) ?? 'to_do';

function CheckRow({ view, group, check }: Omit<Props, 'job'> & { check: JobCheck }) {
  const cells = group.parts.flatMap((part) => cellsOf(view, part).find((c) => c.check === check) ?? []);
  const done = cells.filter((c) => c.state !== 'to_do');
  if (done.length === 0) return null;
  const of = (part: string) => {
    const cell = cellsOf(view, part).find((c) => c.check === check);
    if (!cell) return '';
    if (cell.word) return cell.word === 'outwards_for_plus' ? w.outwards : cell.word === 'inwards_for_plus' ? w.inwards : jobWords.states[cell.state];
    if (check === 'weight' && cell.main && cell.figure) return figureText(cell.main, cell.figure);
    return jobWords.states[cell.state];
  };
  const label = { look: w.look, polarity: w.polarity, coil: w.coil, knock: w.knock, weight: figureWords('m_ms_kg').label, impedance: '', match: '' }[check];
  return (
    <tr>
      <th scope="row">{label}</th>
      <Sides group={group} of={of} />
      <td />
      <td>
        <Said state={worst(cells)} />
      </td>
    </tr>
  );
}

function MatchRow({ view, group }: Omit<Props, 'job'>) {
  const cells = group.parts.flatMap((part) => cellsOf(view, part).find((c) => c.check === 'match') ?? []);
  if (!group.pair || cells.length === 0) return null;
  return (
    <tr>
      <th scope="row">{w.match}</th>
      <td class="n" colSpan={3}>
        {w.pairs[group.pair]}
      </td>
      <td>
        <Said state={worst(cells)} />
      </td>
    </tr>
  );
}

/** How and when the figures of the table were taken; parts that were treated alike are named together. */
export function Conditions({ job, view }: { job: Job; view: PaperView }) {
  const parts = new Map<string, { stated: Stated; ids: Set<string> }>();
  for (const part of job.parts) {
    for (const line of figuresOf(view, part.id)?.lines ?? []) {
      for (const stated of [line.left, job.shown.before_and_after ? line.found : null]) {
        if (!stated) continue;
        const key = JSON.stringify([stated.phase, stated.check, dayAt(stated.at_ms), stated.conditions]);
        const held = parts.get(key) ?? { stated, ids: new Set<string>() };
        parts.set(key, { ...held, ids: held.ids.add(part.id) });
      }
    }
  }
  if (parts.size === 0) return null;
  const text = ({ stated: s, ids }: { stated: Stated; ids: Set<string> }) =>
    w.howLine(namesOf(job, [...ids]), jobWords.phases[s.phase], w.by[s.check] ?? s.check, dayAt(s.at_ms), conditionsText({ reading: '', phase: s.phase, conditions: s.conditions, note: '', at_ms: s.at_ms }));
  return (
    <ul class="dashes">
      {[...parts.values()].map((entry) => (
        <li key={text(entry)}>{text(entry)}</li>
      ))}
    </ul>
  );
}
