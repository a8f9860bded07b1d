// A recording: WAV files dropped or chosen, what each shows, and then the same analysis as for any take.
import { useRef, useState } from 'preact/hooks';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Choice, Fault, Select, TextEntry } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { fixed, NBSP, significant } from '../ui/format';
import { startNumber, NumberEntry } from '../ui/number_entry';
import type { Place } from '../job/keeping';
import { backOf } from '../job/place';
import { checkWords, recordingWords as w } from '../words/check';
import type { CheckName } from './core_calls';
import { ExtrasForm } from './recording_extras';
import { BOX, KNOWN, LOAD, MASS, SPECS, useRecording, type NumberName, type OpenFile, type Recording } from './recording_state';

export function RecordingScreen({ place }: { place: Place | undefined }) {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const recording = useRecording(place);
  const { files, wanted, working, fault } = recording;
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={backOf(place)} backLabel={checkWords.back} boxes={{ part: wanted.part || w.title, check: w.title }} />
            <div class="card-body">
              <div class="instruction">
                <h1 ref={heading} tabIndex={-1}>
                  {w.heading}
                </h1>
                <p class="detail">{w.note}</p>
              </div>
              <Drop onFiles={(list) => void recording.add(list)} again={files.length > 0} />
              {fault && <Fault text={fault} />}
              {files.length > 0 && <Asked recording={recording} />}
            </div>
          </>
        }
        stub={
          <>
            <div class="buttons">
              <Button kind="main" onPress={() => void recording.run()} {...(files.length === 0 ? { notYet: w.noTake } : working ? { notYet: working } : {})}>
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

const optionsOf = (labels: Record<string, string>) => Object.entries(labels).map(([id, label]) => ({ id, label }));

function Asked({ recording }: { recording: Recording }) {
  const { files, wanted, insist, change } = recording;
  return (
    <>
      <Choice legend={w.check} options={optionsOf(w.checks)} value={wanted.check} onChange={(id) => change({ check: id as CheckName })} />
      <ul class="files">
        {files.map((file, i) => (
          <li key={i}>
            <FileRow file={file} check={wanted.check} insist={insist} onChange={(more) => recording.changeFile(i, more)} onRemove={() => recording.removeFile(i)} />
          </li>
        ))}
      </ul>
      <div class="fields">
        <TextEntry label={checkWords.setup.part} text={wanted.part} onText={(part) => change({ part })} />
        {wanted.check === 'impedance' ? <ImpedanceFields recording={recording} /> : <KnockFields recording={recording} />}
      </div>
      {wanted.check === 'impedance' && <ExtrasForm extras={wanted.extras} insist={insist} onChange={(extras) => change({ extras })} />}
    </>
  );
}

function NumberOf({ recording, name }: { recording: Recording; name: NumberName }) {
  const { numbers } = recording.wanted;
  return <NumberEntry spec={SPECS[name]} insist={recording.insist} state={numbers[name]} onState={(state) => recording.changeNumber(name, state)} onTolerance={(percent) => recording.changeNumber('tolerancePercent', startNumber(SPECS.tolerancePercent, percent))} />;
}

function ChannelChoice({ recording, which, legend }: { recording: Recording; which: 0 | 1; legend: string }) {
  const { files, wanted } = recording;
  const count = Math.max(1, ...files.map((f) => f.take.channels.length));
  const options = Array.from({ length: count }, (_, i) => ({ id: String(i + 1), label: String(i + 1) }));
  const pick = (id: string) => recording.change({ channels: which === 0 ? [Number(id), wanted.channels[1]] : [wanted.channels[0], Number(id)] });
  return <Choice legend={legend} options={options} value={String(wanted.channels[which])} onChange={pick} />;
}

function ImpedanceFields({ recording }: { recording: Recording }) {
  return (
    <>
      <NumberOf recording={recording} name="seriesResistorOhm" />
      <NumberOf recording={recording} name="tolerancePercent" />
      {recording.files.some((f) => f.mass.text !== '' || f.box.text !== '') && <NumberOf recording={recording} name="diameter" />}
      <ChannelChoice recording={recording} which={0} legend={w.sourceChannel} />
      <ChannelChoice recording={recording} which={1} legend={w.driverChannel} />
    </>
  );
}

function KnockFields({ recording }: { recording: Recording }) {
  const { sensor } = recording.wanted;
  return (
    <>
      <Choice legend={w.sensor} options={optionsOf(w.sensors)} value={sensor} onChange={(id) => recording.change({ sensor: id as 'coil' | 'microphone' })} />
      <ChannelChoice recording={recording} which={0} legend={w.channel} />
      {sensor === 'coil' && <NumberOf recording={recording} name="inputResistanceOhm" />}
      <NumberOf recording={recording} name="rEOhm" />
      <NumberOf recording={recording} name="diameter" />
    </>
  );
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
            {file.role === 'driver' && (
              <details open={file.mass.text !== '' || file.box.text !== ''}>
                <summary>{w.mounted}</summary>
                <div class="fields">
                  <NumberEntry spec={MASS} insist={insist} state={file.mass} onState={(mass) => onChange({ mass })} />
                  <NumberEntry spec={BOX} insist={insist} state={file.box} onState={(box) => onChange({ box })} />
                </div>
              </details>
            )}
          </>
        ) : (
          <>
            <NumberEntry spec={LOAD} insist={insist} state={file.load} onState={(load) => onChange({ load })} />
            <NumberEntry spec={MASS} insist={insist} state={file.mass} onState={(mass) => onChange({ mass })} />
            <NumberEntry spec={BOX} insist={insist} state={file.box} onState={(box) => onChange({ box })} />
          </>
        )}
      </div>
    </div>
  );
}
