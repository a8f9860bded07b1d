// What a part is held against: published and earlier figures with their tolerance.
import { useEffect, useState } from 'preact/hooks';
import type { Reference, ReferenceKind, Tolerance } from '../core/types.gen';
import { core } from '../core/client';
import { Button, Choice, Select, TextEntry } from '../ui/controls';
import { NumberEntry, readNumber, startNumber, type NumberSpec } from '../ui/number_entry';
import { Rich } from '../ui/symbol';
import { figureWords } from '../words/figures';
import { jobWords } from '../words/job';
import { listJobs, partnerOf, withPart, type Job, type Part } from './jobs';
import { jobTitle, partName } from './part_words';
import { limitText, spoken } from './reason_words';
import type { PartProps } from './part_screen';

const w = jobWords.references;
const KINDS = Object.entries(w.kinds).map(([id, label]) => ({ id, label }));

export function References(props: PartProps) {
  const { part, change } = props;
  const [tolerances, setTolerances] = useState<Tolerance[]>([]);
  useEffect(() => void core.tolerances().then(setTolerances), []);
  return (
    <section aria-labelledby="references">
      <h2 id="references">{w.title}</h2>
      <p class="note">{part.references.length === 0 ? `${w.help} ${w.none}` : w.help}</p>
      <ul class="part-rows">
        {part.references.map((r, i) => (
          <li key={i}>
            <span>
              <Rich text={spoken(r.name)} /> {w.line(limitText(r.name, r.value), limitText(r.name, r.value * (1 - r.below)), limitText(r.name, r.value * (1 + r.above)))}
              <span class="note">{` ${[w.kinds[r.kind], r.source, r.common_practice ? jobWords.reasons.common : ''].filter(Boolean).join(', ')}`}</span>
            </span>
            <button type="button" class="text-button" aria-label={w.removeNamed(figureWords(r.name).label)} onClick={() => change((p) => ({ ...p, references: p.references.filter((_, at) => at !== i) }), w.removed(figureWords(r.name).label))}>
              {w.remove}
            </button>
          </li>
        ))}
      </ul>
      {tolerances.length > 0 && <AddReference {...props} tolerances={tolerances} />}
      <FromOtherJob {...props} />
    </section>
  );
}

const share = (label: string, high: number): NumberSpec => ({ label, unit: '%', scale: 0.01, low: 0, high });

function AddReference({ open, part, change, tolerances }: PartProps & { tolerances: Tolerance[] }) {
  const [name, setName] = useState(tolerances[0]?.name ?? '');
  const usual = tolerances.find((t) => t.name === name);
  const { unit, scale } = figureWords(name);
  const spec: NumberSpec = { label: w.value, unit, scale, low: 1e-9, high: 1e9 };
  const [value, setValue] = useState(() => startNumber(spec, undefined));
  const [below, setBelow] = useState(() => startNumber(share(w.below, 0.99), usual?.below));
  const [above, setAbove] = useState(() => startNumber(share(w.above, 10), usual?.above));
  const [kind, setKind] = useState<ReferenceKind>('published');
  const [source, setSource] = useState('');
  const [both, setBoth] = useState(true);
  const [insist, setInsist] = useState(false);
  const partner = partnerOf(open.job, part);
  const pick = (next: string) => {
    setName(next);
    const usually = tolerances.find((t) => t.name === next);
    setBelow(startNumber(share(w.below, 0.99), usually?.below));
    setAbove(startNumber(share(w.above, 10), usually?.above));
    setValue(readNumber({ ...spec, scale: figureWords(next).scale }, value.text));
  };
  const add = () => {
    setInsist(true);
    if (value.value === undefined || below.value === undefined || above.value === undefined) return;
    const common = below.value === usual?.below && above.value === usual.above;
    const entry: Reference = { name, value: value.value, below: below.value, above: above.value, common_practice: common, kind, source: source.trim() };
    const put = (p: Part): Part => ({ ...p, references: [...p.references.filter((r) => r.name !== name || r.kind !== kind), entry] });
    if (partner && both) open.change((job) => withPart(withPart(job, part.id, put), partner.id, put));
    else change(put);
    setValue(startNumber(spec, undefined));
    setInsist(false);
  };
  return (
    <details class="budgets">
      <summary>{w.open}</summary>
      <div class="add-reference">
      <p class="note">{w.common}</p>
      <div class="fields">
        <Select label={w.figure} options={tolerances.map((t) => ({ id: t.name, label: `${figureWords(t.name).symbol?.replace('_', ' ') ?? ''} ${figureWords(t.name).label}`.trim() }))} value={name} onChange={pick} />
        <NumberEntry spec={spec} state={value} onState={setValue} insist={insist} />
        <NumberEntry spec={share(w.below, 0.99)} state={below} onState={setBelow} insist={insist} />
        <NumberEntry spec={share(w.above, 10)} state={above} onState={setAbove} insist={insist} />
        <Choice legend={w.kind} options={KINDS} value={kind} onChange={(id) => setKind(id as ReferenceKind)} />
        <TextEntry label={w.source} help={w.sourceHelp} text={source} onText={setSource} />
      </div>
      {partner && (
        <label class="tick">
          <input type="checkbox" checked={both} onChange={(event) => setBoth(event.currentTarget.checked)} /> <span>{w.alsoPartner}</span>
        </label>
      )}
      <Button kind="plain" onPress={add}>
        {w.add}
      </Button>
      </div>
    </details>
  );
}

/** Figures that another job holds for a part of the same type. */
function FromOtherJob({ open, part, change }: PartProps) {
  const [others, setOthers] = useState<{ job: Job; part: Part }[]>();
  const find = async () => {
    const jobs = await listJobs();
    const alike = (p: Part) => p.references.length > 0 && p.kind === part.kind && ((part.model.trim() !== '' && p.model.trim().toLowerCase() === part.model.trim().toLowerCase()) || p.band === part.band);
    setOthers(jobs.filter(({ id }) => id !== open.job.id).flatMap(({ job }) => job.parts.filter(alike).map((p) => ({ job, part: p }))));
  };
  const take = (from: { job: Job; part: Part }) => {
    const source = w.fromReadings(jobTitle(from.job));
    const taken = from.part.references.map((r): Reference => ({ ...r, source: r.source ? `${r.source}; ${source}` : source }));
    change((p) => ({ ...p, references: [...p.references.filter((r) => !taken.some((t) => t.name === r.name && t.kind === r.kind)), ...taken] }), w.taken(taken.length, jobTitle(from.job)));
    setOthers(undefined);
  };
  return (
    <div>
      <button type="button" class="text-button" aria-expanded={others !== undefined} onClick={() => void (others ? setOthers(undefined) : find())}>
        {w.takeFrom}
      </button>
      {others?.length === 0 && <p class="note">{w.noOthers}</p>}
      {others && others.length > 0 && (
        <ul class="part-rows">
          {others.map((other) => (
            <li key={other.part.id}>
              <button type="button" class="text-button" onClick={() => take(other)}>
                {`${jobTitle(other.job)}: ${partName(other.part)}`}
              </button>
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}
