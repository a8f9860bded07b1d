// Curves of the record: one plot a group that has impedance, as left, and dotted as found.
import type { GroupSummary, Job, Part, Stated } from '../../core/types.gen';
import { columns } from '../../bench/curves';
import { PartnersKey, PartnersPlot, type PartnerCurve } from '../../ui/plot/partners';
import { papersWords } from '../../words/papers';
import { groupName, inner, partName } from '../part_words';
import { figuresOf, partOfId, type PaperView } from './load';
import { together } from './texts';

const w = papersWords.record;

interface Plot {
  group: GroupSummary;
  curves: PartnerCurve[];
}

export function plotsOf(job: Job, view: PaperView): Plot[] {
  return view.summary.groups.flatMap((group) => {
    const curves = curvesOf(job, view, group);
    return curves.length > 0 ? [{ group, curves }] : [];
  });
}

export function RecordCurves({ job, plots }: { job: Job; plots: Plot[] }) {
  if (plots.length === 0) return null;
  const kinds = new Set(plots.flatMap((p) => p.curves.map((c) => c.kind)));
  const key = (['left', 'right', 'left_found', 'right_found'] as const).filter((kind) => kinds.has(kind));
  return (
    <section class="record-curves">
      <div class={plots.length > 1 ? 'paper-columns' : ''}>
        {plots.map(({ group, curves }) => {
          const part = partOfId(job, group.parts[0] ?? '');
          const title = part ? (group.parts.length === 2 ? groupName(part) : partName(part)) : '';
          return <PartnersPlot key={group.parts.join()} curves={curves} title={title} summary={w.curveOf(inner(title), together(curves.map((c) => w.key[c.kind])))} />;
        })}
      </div>
      <PartnersKey items={key.map((kind) => [kind, kinds.has('right') ? w.key[kind] : kind === 'left' ? w.key.one : w.key.oneFound])} />
    </section>
  );
}

/** The reading that the peak of the table comes from shows its curve too. */
function curvesOf(job: Job, view: PaperView, group: GroupSummary): PartnerCurve[] {
  return group.parts.flatMap((id, i) => {
    const part: Part | undefined = partOfId(job, id);
    const side = i === 1 ? ('right' as const) : ('left' as const);
    const lines = figuresOf(view, id)?.lines ?? [];
    const line = lines.find((l) => l.name === 'z_max_ohm') ?? lines.find((l) => l.name === 'f_s_hz');
    if (!part || !line) return [];
    const found = job.shown.before_and_after ? curveOf(view, line.found, `${side}_found`) : [];
    return [...curveOf(view, line.left, side), ...found];
  });
}

/** The fit where there is one, else what was measured. */
function curveOf(view: PaperView, stated: Stated | null, kind: PartnerCurve['kind']): PartnerCurve[] {
  const kept = stated?.reading ? view.readings.get(stated.reading) : undefined;
  const curve = kept && (columns(kept.reading, 'fit') ?? columns(kept.reading, 'impedance'));
  const frequency_hz = curve?.['frequency_hz'];
  const magnitude_ohm = curve?.['magnitude_ohm'];
  return frequency_hz && magnitude_ohm && frequency_hz.length > 1 ? [{ kind, frequency_hz, magnitude_ohm }] : [];
}
