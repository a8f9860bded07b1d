// The order sheet: what the specialist shall do to each driver, within which limits, and how it will be tested.
import type { Job, Order, Part } from '../../core/types.gen';
import { TextEntry } from '../../ui/controls';
import { asSet, NBSP } from '../../ui/format';
import { Rich } from '../../ui/symbol';
import { jobWords } from '../../words/job';
import { papersWords as w } from '../../words/papers';
import { partnerOf, withPart } from '../jobs';
import { dayText } from '../job_screen';
import { figureText } from '../../ui/figure';
import { partName } from '../part_words';
import { limitText } from '../reason_words';
import { usePairLimits } from './pair_limits';
import type { OpenJob } from '../use_job';
import { figuresOf, groupsOut, usePaper, type PaperView } from './load';
import { Boxes, Lines, PaperHead, PaperSheet, SideName, SignHere } from './sheet';
import { called, paperDay } from './texts';

const o = w.order;
const ordered = (job: Job) => job.parts.filter((p) => p.kind === 'driver' && p.order.wanted);

export function OrderPaper({ open }: { open: OpenJob }) {
  const { job } = open;
  const view = usePaper(job);
  const limits = usePairLimits(job);
  const parts = ordered(job);
  const pairs = parts.some((p) => parts.some((other) => partnerOf(job, p)?.id === other.id));
  return (
    <PaperSheet open={open} name="order" below={<Fill open={open} />}>
      {view && (
        <>
          <PaperHead job={job} title={o.title} sub={o.sub(parts.length)} aside={paperDay(job)} />
          <Boxes
            boxes={[
              [w.job, job.number],
              [w.to, job.specialist],
              [w.from, [job.workshop, job.technician].filter(Boolean).join(', ')],
              [o.sentOn, dayText(parts[0]?.order.sent_on ?? '')],
            ]}
          />
          {parts.length === 0 && <p>{w.none}</p>}
          {groupsOut(job, view).map((group) => (
            <OrderedGroup key={group[0]?.id} parts={group} view={view} />
          ))}
          <div class="paper-columns">
            {pairs && (
              <Lines title={o.pairLimits} lines={[`${limits.map((l) => o.pairLine(called(l.name), `${asSet(100 * l.acceptable)}${NBSP}%`)).join(', ')}${job.pair_limits.length === 0 ? ` (${w.common})` : ''}.`, o.batch]} />
            )}
            <Lines title={o.conditions} lines={[...o.conditionLines, o.please]} />
          </div>
          <SignHere who={w.signed(job.workshop)} second={o.agreed} />
        </>
      )}
    </PaperSheet>
  );
}

/** What is ordered for one driver, by the words of its rows. */
function ordersOf(part: Part, view: PaperView): [string, string][] {
  const figures = figuresOf(view, part.id);
  const found = figures?.lines.filter((l) => l.found) ?? [];
  const r_e = figures?.ordered_r_e;
  const { order } = part;
  return [
    [w.mark, part.mark],
    [w.rated, part.rated_impedance_ohm === null ? '' : `${asSet(part.rated_impedance_ohm)}${NBSP}Ω`],
    [o.work, order.work],
    [o.surround, order.surround],
    [o.roll, order.roll],
    [o.cap, order.leave_cap ? o.leaveCap : o.capFree],
    [o.coil, r_e ? o.coilTo(limitText('r_e_ohm', r_e.low ?? NaN), limitText('r_e_ohm', r_e.high ?? NaN)).replace('R_e', '{r_e}') : o.coilUnknown.replace('R_e', '{r_e}')],
    [o.found, found.map((l) => `${called(l.name)}${NBSP}${l.found ? figureText(l.name, l.found.figure) : ''}`).join('; ') || w.notMeasured],
    [o.limits, limitsOf(part)],
  ];
}

/** Figures of one source together, the source after them. */
function limitsOf(part: Part): string {
  const bySource = new Map<string, string[]>();
  for (const r of part.references) {
    const source = [r.source || jobWords.references.kinds[r.kind], r.common_practice ? o.commonTolerance : ''].filter(Boolean).join('; ');
    const line = o.limitLine(called(r.name), limitText(r.name, r.value * (1 - r.below)), limitText(r.name, r.value * (1 + r.above)));
    bySource.set(source, [...(bySource.get(source) ?? []), line]);
  }
  return [...bySource].map(([source, lines]) => `${lines.join(', ')} (${source})`).join('. ') || o.noLimits;
}

/** The drivers of a pair beside each other; what is the same for both is said once. */
function OrderedGroup({ parts, view }: { parts: Part[]; view: PaperView }) {
  const all = parts.map((part) => ordersOf(part, view));
  const rows = (all[0] ?? []).map(([label], i) => ({ label, texts: all.map((own) => own[i]?.[1] ?? '') })).filter((row) => row.texts.some((text) => text !== ''));
  return (
    <table class="paper-table order-part">
      <thead>
        <tr>
          <td />
          {parts.map((part) => (
            <th key={part.id} scope="col" class="named">
              <b class="serif">{partName(part)}</b>
              <span class="what">{part.model}</span>
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map(({ label, texts }) => (
          <tr key={label}>
            <th scope="row">{label}</th>
            {new Set(texts).size === 1 ? (
              <td colSpan={parts.length}>
                <Rich text={texts[0] ?? ''} />
                {parts.length > 1 && <span class="what">{o.both}</span>}
              </td>
            ) : (
              texts.map((text, i) => (
                <td key={i}>
                  {parts[i] && <SideName name={partName(parts[i])} />}
                  <Rich text={text || '–'} />
                </td>
              ))
            )}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** What goes out, typed below the paper. */
function Fill({ open: { job, change } }: { open: OpenJob }) {
  const set = (part: Part, changes: Partial<Order>) => change((now) => withPart(now, part.id, (p) => ({ ...p, order: { ...p.order, ...changes } })));
  return (
    <section aria-labelledby="goes-out">
      <h2 id="goes-out">{o.fill}</h2>
      {job.parts
        .filter((part) => part.kind === 'driver')
        .map((part) => (
          <Ordered key={part.id} part={part} partner={partnerOf(job, part)} set={(changes) => set(part, changes)} />
        ))}
    </section>
  );
}

function Ordered({ part, partner, set }: { part: Part; partner: Part | undefined; set: (changes: Partial<Order>) => void }) {
  const { order } = part;
  const name = partName(part);
  const text = (of: 'work' | 'surround' | 'roll' | 'sent_on' | 'returned_on') => ({ text: order[of], onText: (value: string) => set({ [of]: value }) });
  const day = (of: 'sent_on' | 'returned_on') => ({ ...text(of), day: true });
  const tick = (label: string, of: 'wanted' | 'leave_cap') => (
    <li>
      <label>
        <input type="checkbox" checked={order[of]} onChange={(event) => set({ [of]: event.currentTarget.checked })} />
        <span>{label}</span>
      </label>
    </li>
  );
  return (
    <fieldset class="plain ordered">
      <legend>{name}</legend>
      <ul class="ticks">
        {tick(`${name} ${o.goesOut}`, 'wanted')}
        {order.wanted && tick(`${o.cap} ${o.leaveCap}`, 'leave_cap')}
      </ul>
      {order.wanted && (
        <>
          <div class="fields">
            <TextEntry label={o.work} {...text('work')} />
            <TextEntry label={o.surround} {...text('surround')} />
            <TextEntry label={o.roll} {...text('roll')} help={o.roll_help} />
            <TextEntry label={o.sentOn} {...day('sent_on')} />
            <TextEntry label={o.returnedOn} {...day('returned_on')} />
          </div>
          {partner?.order.wanted && partner.order.work !== '' && order.work === '' && (
            <button type="button" class="text-button" onClick={() => set({ ...partner.order })}>
              {o.asPartner(partName(partner))}
            </button>
          )}
        </>
      )}
    </fieldset>
  );
}
