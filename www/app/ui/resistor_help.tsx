// Beside a field for a resistor: its value read off bands or letters, and what others make the value.
import { useEffect, useState } from 'preact/hooks';
import { core } from '../core/client';
import type { Made, Resistor } from '../core/types.gen';
import { resistorWords as w } from '../words/resistor';
import { Button, Choice, Fault, Select, TextEntry } from './controls';
import { forEntry, NBSP, significant } from './format';

type Way = 'bands' | 'letters';

/** Tolerance that a check takes for a resistor whose tolerance it does not ask for. */
const COUNTED_ON_PERCENT = 1;

/** The first is what most parts at hand have: 47 Ω, 5 %. */
const START: Record<string, string[]> = {
  3: ['yellow', 'violet', 'black'],
  4: ['yellow', 'violet', 'black', 'gold'],
  5: ['yellow', 'violet', 'black', 'gold', 'brown'],
};
const DIGITS = ['black', 'brown', 'red', 'orange', 'yellow', 'green', 'blue', 'violet', 'grey', 'white'];
const ALL = [...DIGITS, 'gold', 'silver'];

/** In Ω or kΩ, as it is said at the bench. */
export function ohmText(ohm: number): string {
  const [value, unit] = ohm >= 1e6 ? [ohm / 1e6, 'MΩ'] : ohm >= 1e3 ? [ohm / 1e3, 'kΩ'] : [ohm, 'Ω'];
  return `${forEntry(Number(value.toPrecision(4)))}${NBSP}${unit}`;
}

interface Props {
  /** What the field holds or the check asks for; others that come near it are told. */
  wantedOhm?: number | undefined;
  onTake: (ohm: number, tolerancePercent: number | null) => void;
  /** Whether the tolerance goes into a field as well; elsewhere the check counts on 1 %. */
  keepsTolerance: boolean;
}

export function ResistorHelp(props: Props) {
  const [open, setOpen] = useState(false);
  return (
    <details class="resistor-help" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{w.open}</summary>
      {open && <Opened {...props} />}
    </details>
  );
}

function Opened({ wantedOhm, onTake, keepsTolerance }: Props) {
  const [way, setWay] = useState<Way>('bands');
  const [bands, setBands] = useState(START[4]!);
  const [letters, setLetters] = useState('');
  const read = useRead(way, bands, letters);
  const ways = (['bands', 'letters'] as const).map((id) => ({ id, label: w.ways[id] }));
  return (
    <div class="resistor-body">
      <Choice legend={w.how} options={ways} value={way} onChange={(id) => setWay(id as Way)} />
      {way === 'bands' ? <Bands bands={bands} onBands={setBands} /> : <TextEntry label={w.letters} text={letters} onText={setLetters} help={w.lettersHelp} />}
      <div role="status">
        {read && 'fault' in read && <Fault text={read.fault} />}
        {read && 'ohm' in read && <Read read={read} way={way} keepsTolerance={keepsTolerance} />}
      </div>
      {read && 'ohm' in read && (
        <Button kind="plain" onPress={() => onTake(read.ohm, read.tolerance_percent)}>
          {w.take(ohmText(read.ohm))}
        </Button>
      )}
      {wantedOhm !== undefined && <Others wantedOhm={wantedOhm} />}
    </div>
  );
}

/** What the core reads; the answer to an older question is dropped. */
function useRead(way: Way, bands: string[], letters: string): Resistor | { fault: string } | undefined {
  const [read, setRead] = useState<Resistor | { fault: string }>();
  useEffect(() => {
    let current = true;
    const asked = way === 'bands' ? core.readBands(bands) : letters.trim() === '' ? undefined : core.readLetters(letters);
    if (!asked) return setRead(undefined);
    asked.then(
      (found) => current && setRead(found),
      (error) => current && setRead({ fault: error instanceof Error ? error.message : String(error) }),
    );
    return () => void (current = false);
  }, [way, bands.join(), letters]);
  return read;
}

function Bands({ bands, onBands }: { bands: string[]; onBands: (bands: string[]) => void }) {
  const counts = Object.keys(START).map((id) => ({ id, label: w.counts[id] ?? id }));
  const digits = bands.length === 5 ? 3 : 2;
  const what = (i: number) => (i < digits ? w.digit : i === digits ? w.multiplier : w.tolerance);
  const options = ALL.map((id) => ({ id, label: w.colours[id] ?? id }));
  return (
    <>
      <Choice legend={w.count} options={counts} value={String(bands.length)} onChange={(id) => onBands(START[id] ?? bands)} />
      <Drawing bands={bands} />
      <div class="band-choices">
        {bands.map((colour, i) => (
          <Select key={`${bands.length} ${i}`} label={w.band(i + 1, what(i))} options={options} value={colour} onChange={(id) => onBands(bands.map((old, n) => (n === i ? id : old)))} />
        ))}
      </div>
      <p class="note">{w.begin}</p>
    </>
  );
}

/** A picture beside the names: colour alone would tell too few people anything. */
function Drawing({ bands }: { bands: string[] }) {
  const last = bands.length > 3;
  const at = (i: number) => (last && i === bands.length - 1 ? 196 : 62 + i * 28);
  return (
    <svg class="resistor-drawing" viewBox="0 0 260 56" role="img" aria-label={w.drawing(bands.map((b) => w.colours[b]).join(', '))}>
      <path class="wire" d="M0 28H40M220 28H260" />
      <rect class="body" x="40" y="8" width="180" height="40" rx="14" />
      {bands.map((colour, i) => (
        <rect key={i} class={`band band-${colour}`} x={at(i)} y="8" width="13" height="40" />
      ))}
    </svg>
  );
}

/** What the check makes of the tolerance. */
function toleranceWords(percent: number | null, way: Way, keepsTolerance: boolean): string {
  if (percent === null) return way === 'letters' ? w.noTolerance : w.doubtful;
  if (keepsTolerance) return w.standard(significant(percent / Math.sqrt(3), 2));
  return percent > COUNTED_ON_PERCENT ? w.countedOn : '';
}

function Read({ read, way, keepsTolerance }: { read: Resistor; way: Way; keepsTolerance: boolean }) {
  const percent = read.tolerance_percent;
  const about = toleranceWords(percent, way, keepsTolerance);
  return (
    <>
      <p class="resistor-read">
        <strong>{w.reads(ohmText(read.ohm))}</strong>
        {percent !== null && `, ${w.within(forEntry(percent))}`}.
      </p>
      {about && <p class="note">{about}</p>}
      {read.series === null && <Fault text={w.unusual} />}
      {read.other_way_ohm !== null && <p class="note">{w.otherWay(ohmText(read.other_way_ohm))}</p>}
      {way === 'bands' && <p class="note">{w.heat}</p>}
    </>
  );
}

function Others({ wantedOhm }: { wantedOhm: number }) {
  const [made, setMade] = useState<Made[]>([]);
  useEffect(() => {
    let current = true;
    core.insteadOf(wantedOhm).then(
      (found) => current && setMade(found),
      () => current && setMade([]),
    );
    return () => void (current = false);
  }, [wantedOhm]);
  if (made.length === 0) return null;
  return (
    <>
      <p class="list-title">{`${w.make} ${ohmText(wantedOhm)}`}</p>
      <ul class="made">
        {made.map((m) => (
          <li key={m.parts_ohm.join()}>{wordsOf(m)}</li>
        ))}
      </ul>
    </>
  );
}

function wordsOf({ joined, parts_ohm, ohm, relative_error }: Made): string {
  const [a = '', b = ''] = parts_ohm.map(ohmText);
  const made = joined === 'one' ? a : w[joined](a, b) + w.comes(ohmText(ohm));
  return made + (Math.abs(relative_error) < 5e-5 ? w.exact : w.off(significant(100 * Math.abs(relative_error), 2)));
}
