// A recording: WAV files dropped or chosen, what each shows, and then the same analysis as for any take.
import { useRef, useState } from 'preact/hooks';
import type { PageTake, TakeUse } from '../core/types.gen';
import { keepReading, keepTake, loadBench } from '../job/keeping';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Choice, Fault, Select, TextEntry } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { fixed, NBSP, significant } from '../ui/format';
import { NumberEntry, startNumber, type NumberSpec, type NumberState } from '../ui/number_entry';
import { go, href } from '../ui/route';
import { benchWords } from '../words/bench';
import { checkWords, recordingWords as w } from '../words/check';
import { without } from './analysis';
import { FIELDS } from './bench_fields';
import { analyse, readWav, type CheckName } from './core_calls';
import { ExtrasForm, extrasFaulty, extrasFields, startExtras } from './recording_extras';
import { standardFromTolerance } from './setup_screen';
import { setupWithTakes } from './analysis';

interface OpenFile {
  name: string;
  take: PageTake;
  role: string;
  resistor: NumberState;
  load: NumberState;
  mass: NumberState;
}

const KNOWN: NumberSpec = { label: w.known, unit: 'Ω', low: 0.01, high: 1e5 };
const LOAD: NumberSpec = { label: w.load, unit: 'Ω', low: 0.1, high: 1e6, optional: true, help: w.loadHelp };
const MASS: NumberSpec = { label: w.weight, unit: 'g', scale: 1e-3, low: 1e-5, high: 5, optional: true, help: w.weightHelp };
const DIAMETER: NumberSpec = { label: benchWords.diameter, unit: 'mm', scale: 1e-3, low: 0.01, high: 1, optional: true, help: benchWords.diameterHelp };

export function RecordingScreen() {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const [files, setFiles] = useState<OpenFile[]>([]);
  const [check, setCheck] = useState<CheckName>('impedance');
  const [sensor, setSensor] = useState<'coil' | 'microphone'>('coil');
  const [channels, setChannels] = useState<[number, number]>([1, 2]);
  const [part, setPart] = useState('');
  const [numbers, setNumbers] = useState(() => ({ seriesResistorOhm: startNumber(FIELDS.seriesResistorOhm, undefined), tolerancePercent: startNumber(FIELDS.tolerancePercent, 1), inputResistanceOhm: startNumber(FIELDS.inputResistanceOhm, undefined), rEOhm: startNumber(FIELDS.rEOhm, undefined), diameter: startNumber(DIAMETER, undefined) }));
  const [extras, setExtras] = useState(startExtras);
  const [insist, setInsist] = useState(false);
  const [working, setWorking] = useState('');
  const [fault, setFault] = useState('');
  const count = Math.max(1, ...files.map((f) => f.take.channels.length));

  const add = async (list: FileList | File[]) => {
    setFault('');
    for (const file of Array.from(list)) {
      setWorking(w.reading);
      try {
        const take = await readWav(new Uint8Array(await file.arrayBuffer()));
        setFiles((now) => [...now, { name: file.name, take, role: 'driver', resistor: startNumber(KNOWN, undefined), load: startNumber(LOAD, undefined), mass: startNumber(MASS, undefined) }]);
        if (files.length === 0) {
          setPart((now) => now || file.name.replace(/\.wav$/i, ''));
          // One channel can only be a knock; two are most often source and driver.
          if (take.channels.length === 1) setCheck('knock');
          void loadBench().then((kept) => kept.seriesResistorOhm && setNumbers((n) => ({ ...n, seriesResistorOhm: startNumber(FIELDS.seriesResistorOhm, kept.seriesResistorOhm) })));
        }
      } catch (error) {
        setFault(`${w.faulty}: ${file.name}. ${error instanceof Error ? error.message : String(error)}`);
      }
    }
    setWorking('');
  };

  const faulty =
    check === 'impedance'
      ? extrasFaulty(extras) || numbers.seriesResistorOhm.faulty || numbers.tolerancePercent.faulty || files.some((f) => f.role === 'known_resistor' && f.resistor.faulty)
      : numbers.inputResistanceOhm.faulty || numbers.rEOhm.faulty || numbers.diameter.faulty || files.some((f) => f.load.faulty || f.mass.faulty);

  const setup = () =>
    check === 'impedance'
      ? without({ check, series_resistor_ohm: numbers.seriesResistorOhm.value, series_resistor_relative_uncertainty: standardFromTolerance(numbers.tolerancePercent.value), source_channel: channels[0], driver_channel: channels[1], ...extrasFields(extras) })
      : without({ check, sensor, channel: channels[0], r_e_ohm: numbers.rEOhm.value, input_resistance_ohm: sensor === 'coil' ? numbers.inputResistanceOhm.value : undefined, effective_diameter_m: numbers.diameter.value });

  const run = async () => {
    setInsist(true);
    if (faulty || working) return;
    setFault('');
    setWorking(checkWords.analysing);
    const partName = part.trim() || checkWords.setup.unnamed;
    try {
      const uses: TakeUse[] = [];
      for (const file of files) uses.push(await keep(file, check, partName));
      const reading = await analyse(setupWithTakes(setup(), uses), files.map((f) => f.take));
      const kept = await keepReading({ check, partName, note: '', source: 'recording', takes: uses, setup: setup(), reading });
      go(href('reading', [kept.id]));
    } catch (error) {
      setFault(error instanceof Error ? error.message : String(error));
    }
    setWorking('');
  };

  const change = (i: number, more: Partial<OpenFile>) => setFiles(files.map((f, k) => (k === i ? { ...f, ...more } : f)));
  const channelOptions = Array.from({ length: count }, (_, i) => ({ id: String(i + 1), label: String(i + 1) }));
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={href('')} backLabel={checkWords.back} boxes={{ part: part || w.title, check: w.title }} />
            <div class="card-body">
              <div class="instruction">
                <h1 ref={heading} tabIndex={-1}>
                  {w.heading}
                </h1>
                <p class="detail">{w.note}</p>
              </div>
              <Drop onFiles={(list) => void add(list)} again={files.length > 0} />
              {fault && <Fault text={fault} />}
              {files.length > 0 && (
                <>
                  <Choice legend={w.check} options={Object.entries(w.checks).map(([id, label]) => ({ id, label }))} value={check} onChange={(id) => setCheck(id as CheckName)} />
                  <ul class="files">
                    {files.map((file, i) => (
                      <li key={i}>
                        <FileRow file={file} check={check} insist={insist} onChange={(more) => change(i, more)} onRemove={() => setFiles(files.filter((_, k) => k !== i))} />
                      </li>
                    ))}
                  </ul>
                  <div class="fields">
                    <TextEntry label={checkWords.setup.part} text={part} onText={setPart} />
                    {check === 'impedance' ? (
                      <>
                        {(['seriesResistorOhm', 'tolerancePercent'] as const).map((name) => (
                          <NumberEntry key={name} spec={FIELDS[name]} insist={insist} state={numbers[name]} onState={(s) => setNumbers({ ...numbers, [name]: s })} />
                        ))}
                        <Choice legend={w.sourceChannel} options={channelOptions} value={String(channels[0])} onChange={(id) => setChannels([Number(id), channels[1]])} />
                        <Choice legend={w.driverChannel} options={channelOptions} value={String(channels[1])} onChange={(id) => setChannels([channels[0], Number(id)])} />
                      </>
                    ) : (
                      <>
                        <Choice legend={w.sensor} options={Object.entries(w.sensors).map(([id, label]) => ({ id, label }))} value={sensor} onChange={(id) => setSensor(id as 'coil' | 'microphone')} />
                        <Choice legend={w.channel} options={channelOptions} value={String(channels[0])} onChange={(id) => setChannels([Number(id), channels[1]])} />
                        {sensor === 'coil' && <NumberEntry spec={FIELDS.inputResistanceOhm} insist={insist} state={numbers.inputResistanceOhm} onState={(s) => setNumbers({ ...numbers, inputResistanceOhm: s })} />}
                        <NumberEntry spec={FIELDS.rEOhm} insist={insist} state={numbers.rEOhm} onState={(s) => setNumbers({ ...numbers, rEOhm: s })} />
                        <NumberEntry spec={DIAMETER} insist={insist} state={numbers.diameter} onState={(s) => setNumbers({ ...numbers, diameter: s })} />
                      </>
                    )}
                  </div>
                  {check === 'impedance' && <ExtrasForm extras={extras} insist={insist} onChange={setExtras} />}
                </>
              )}
            </div>
          </>
        }
        stub={
          <>
            <div class="buttons">
              <Button kind="main" onPress={() => void run()} {...(files.length === 0 ? { notYet: w.noTake } : working ? { notYet: working } : {})}>
                {w.analyse}
              </Button>
            </div>
            <p class="note" role="status">
              {working}
            </p>
          </>
        }
      />
    </Page>
  );
}

async function keep(file: OpenFile, check: CheckName, partName: string): Promise<TakeUse> {
  const role = check === 'knock' ? 'free' : file.role;
  const about = {
    role,
    resistor_ohm: role === 'known_resistor' ? (file.resistor.value ?? null) : null,
    load_ohm: check === 'knock' ? (file.load.value ?? null) : null,
    added_mass_kg: check === 'knock' ? (file.mass.value ?? null) : null,
  };
  const id = await keepTake(file.take, { check, partName, source: 'recording', fileName: file.name, ...about });
  return { id, ...about, set_aside: [] };
}

function Drop({ onFiles, again }: { onFiles: (list: FileList) => void; again: boolean }) {
  const [over, setOver] = useState(false);
  const input = useRef<HTMLInputElement>(null);
  const dropped = (event: DragEvent) => {
    event.preventDefault();
    setOver(false);
    if (event.dataTransfer) onFiles(event.dataTransfer.files);
  };
  return (
    <div
      class={`drop ${over ? 'over' : ''}`}
      onDragOver={(event) => {
        event.preventDefault();
        setOver(true);
      }}
      onDragLeave={() => setOver(false)}
      onDrop={dropped}
    >
      <p>{w.drop}</p>
      <input
        ref={input}
        class="unheard"
        type="file"
        accept=".wav,audio/wav,audio/x-wav"
        multiple
        tabIndex={-1}
        aria-label={w.choose}
        onChange={(event) => {
          if (event.currentTarget.files) onFiles(event.currentTarget.files);
          event.currentTarget.value = '';
        }}
      />
      <Button kind={again ? 'quiet' : 'plain'} onPress={() => input.current?.click()}>
        {again ? w.addMore : w.choose}
      </Button>
    </div>
  );
}

function FileRow({ file, check, insist, onChange, onRemove }: { file: OpenFile; check: CheckName; insist: boolean; onChange: (more: Partial<OpenFile>) => void; onRemove: () => void }) {
  const { take } = file;
  const seconds = (take.channels[0]?.length ?? 0) / take.rateHz;
  const facts = w.facts(`${fixed(take.rateHz, 0)}${NBSP}Hz`, take.channels.length, `${significant(seconds, 2)}${NBSP}s`);
  return (
    <div class="file">
      <div>
        <strong>{file.name}</strong>
        <p class="note">{facts}</p>
        <button type="button" class="text-button" aria-label={w.removeNamed(file.name)} onClick={onRemove}>
          {w.remove}
        </button>
      </div>
      <div class="field">
        {check === 'impedance' ? (
          <>
            <Select label={w.role} options={Object.entries(w.roles).map(([id, label]) => ({ id, label }))} value={file.role} onChange={(role) => onChange({ role })} />
            {file.role === 'known_resistor' && <NumberEntry spec={KNOWN} insist={insist} state={file.resistor} onState={(resistor) => onChange({ resistor })} />}
          </>
        ) : (
          <>
            <NumberEntry spec={LOAD} insist={insist} state={file.load} onState={(load) => onChange({ load })} />
            <NumberEntry spec={MASS} insist={insist} state={file.mass} onState={(mass) => onChange({ mass })} />
          </>
        )}
      </div>
    </div>
  );
}
