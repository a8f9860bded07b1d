// Job files: a job is saved as one, and one is opened, looked at and put into this browser.
import { useEffect, useRef, useState } from 'preact/hooks';
import { CoreError } from '../core/client';
import { listJobs, type KeptJob } from '../job/jobs';
import { jobTitle } from '../job/part_words';
import { when } from '../job/when';
import { download, fileName } from '../store/export';
import { store, StoreProblem } from '../store/store';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Fault, Progress } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { bytes } from '../ui/format';
import { StateMark } from '../ui/marks';
import { href } from '../ui/route';
import { jobsWords } from '../words/jobs';
import { FILE_PROBLEM_WORDS, moveWords as w } from '../words/move';
import { STORE_PROBLEM_WORDS } from '../words/store-problems';
import { markExported } from './arrival';
import { FileProblem } from './container';
import { belongingsOf, jobFile, openJobFile, type Belongings, type Opened } from './job_file';
import { Room } from './room';
import { freeBytes } from './storage';
import { takeIn, type TakenIn } from './take_in';

const { reminder } = jobsWords;

export function FilesScreen({ id }: { id: string }) {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const [jobs, setJobs] = useState<KeptJob[]>();
  const refresh = () => void listJobs().then(setJobs);
  useEffect(refresh, []);
  const chosen = jobs?.find((kept) => kept.id === id);
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={chosen ? href('job', [chosen.id]) : href('')} backLabel={chosen ? w.open.toJob : w.back} boxes={{ ...(chosen ? { job: jobTitle(chosen.job) } : {}), check: w.title }} />
            <div class="card-body">
              <h1 ref={heading} tabIndex={-1}>
                {w.title}
              </h1>
              <p>{w.about}</p>
              {chosen ? <SaveJob kept={chosen} onSaved={refresh} /> : <ChooseJob jobs={jobs} />}
              <OpenFile onTaken={refresh} />
            </div>
          </>
        }
        stub={<Room />}
      />
    </Page>
  );
}

function ChooseJob({ jobs }: { jobs: KeptJob[] | undefined }) {
  return (
    <section aria-labelledby="save">
      <h2 id="save">{w.save.title}</h2>
      {jobs?.length === 0 && <p class="note">{w.save.none}</p>}
      <ul class="part-rows">
        {jobs?.map((kept) => (
          <li key={kept.id}>
            <a href={href('files', [kept.id])} aria-label={reminder.saveNamed(jobTitle(kept.job))}>
              <b>{jobTitle(kept.job)}</b>
            </a>{' '}
            <span class="note">{kept.exportedAt === undefined ? reminder.never : kept.exportedAt < kept.changedAt ? reminder.changed(when(kept.exportedAt)) : ''}</span>
          </li>
        ))}
      </ul>
    </section>
  );
}

function SaveJob({ kept, onSaved }: { kept: KeptJob; onSaved: () => void }) {
  const [belongs, setBelongs] = useState<Belongings>();
  const [progress, setProgress] = useState<number>();
  const [said, setSaid] = useState('');
  const [fault, setFault] = useState('');
  const title = jobTitle(kept.job);
  useEffect(() => {
    void belongingsOf(kept.id).then(setBelongs, (error: unknown) => setFault(problemText(error)));
  }, [kept.id]);
  const save = async () => {
    const now = Date.now();
    setFault('');
    setProgress(0);
    try {
      // Anew, as it may have changed since the screen was opened.
      const { file, missing } = await jobFile((await belongingsOf(kept.id)) ?? belongs!, now, setProgress);
      const name = fileName([title], now, 'conewright');
      download(name, file, 'application/zip');
      await markExported(kept.id).catch(() => undefined);
      setSaid([w.save.done(name, bytes(file.size)), missing > 0 ? w.save.missing(missing) : ''].filter(Boolean).join(' '));
      onSaved();
    } catch (error) {
      setFault(problemText(error));
    }
    setProgress(undefined);
  };
  return (
    <section aria-labelledby="save">
      <h2 id="save">{w.save.title}</h2>
      <p>
        <b>{title}</b>
        {belongs ? `: ${w.counts(belongs.readings.length, belongs.takes.length, belongs.photos.length)}` : ''}
      </p>
      {belongs && belongs.missing > 0 && <p class="note">{w.save.missing(belongs.missing)}</p>}
      {progress === undefined ? (
        <div class="buttons">
          <Button kind="main" onPress={() => void save()} {...(belongs ? {} : { notYet: w.save.sizing })}>
            {belongs && w.save.button(bytes(belongs.bytes))}
          </Button>
        </div>
      ) : (
        <Progress done={progress} label={w.save.making(title)} />
      )}
      <p role="status">{said}</p>
      {fault && <Fault text={fault} />}
    </section>
  );
}

type Stage = { stage: 'idle' } | { stage: 'checking' } | { stage: 'looked'; opened: Opened; known: boolean; free: number | undefined } | { stage: 'writing' } | { stage: 'done'; taken: TakenIn } | { stage: 'failed'; why: string };

function OpenFile({ onTaken }: { onTaken: () => void }) {
  const [state, setState] = useState<Stage>({ stage: 'idle' });
  const input = useRef<HTMLInputElement>(null);
  const open = async (file: File | undefined) => {
    if (!file) return;
    setState({ stage: 'checking' });
    try {
      const opened = await openJobFile(file);
      const [known, free] = await Promise.all([store.find('jobs', opened.job.id), freeBytes()]);
      setState({ stage: 'looked', opened, known: known !== undefined, free });
    } catch (error) {
      setState({ stage: 'failed', why: problemText(error) });
    }
    if (input.current) input.current.value = '';
  };
  const take = async (opened: Opened) => {
    setState({ stage: 'writing' });
    try {
      setState({ stage: 'done', taken: await takeIn(opened) });
      onTaken();
    } catch (error) {
      setState({ stage: 'failed', why: problemText(error) });
    }
  };
  const busy = state.stage === 'checking' || state.stage === 'writing';
  return (
    <section aria-labelledby="open">
      <h2 id="open">{w.open.title}</h2>
      <p class="note">{w.open.help}</p>
      <div class="field">
        <label for="job-file">{w.open.choose}</label>
        <input ref={input} id="job-file" type="file" accept=".conewright,.zip" disabled={busy} onChange={(event) => void open(event.currentTarget.files?.[0])} />
      </div>
      <div role="status">
        {busy && <p>{state.stage === 'checking' ? w.open.reading : w.open.taking}</p>}
        {state.stage === 'done' && <Done taken={state.taken} />}
      </div>
      {state.stage === 'looked' && <Looked {...state} onTake={() => void take(state.opened)} onLeave={() => setState({ stage: 'idle' })} />}
      {state.stage === 'failed' && (
        <>
          <Fault text={state.why} />
          <p class="note">{w.open.nothing}</p>
        </>
      )}
    </section>
  );
}

function Looked({ opened, known, free, onTake, onLeave }: { opened: Opened; known: boolean; free: number | undefined; onTake: () => void; onLeave: () => void }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  const { job, readings, takes, photos } = opened;
  const written = Date.parse(opened.writtenAt);
  return (
    <div class="in-file">
      <h3 ref={heading} tabIndex={-1}>
        {w.open.heading(jobTitle(job))}
      </h3>
      <p>
        {w.open.parts(job.parts.length)}, {w.counts(readings.length, takes.length, photos.length)}. {Number.isFinite(written) ? w.open.written(when(written)) : ''}
      </p>
      <p class="note">
        {w.open.size(bytes(opened.bytes))} {free === undefined ? '' : w.open.room(bytes(free))}
      </p>
      {known && <p>{w.open.known}</p>}
      <div class="buttons across">
        <Button kind="main" onPress={onTake}>
          {w.open.take}
        </Button>
        <Button kind="quiet" onPress={onLeave}>
          {w.open.leave}
        </Button>
      </div>
    </div>
  );
}

function Done({ taken }: { taken: TakenIn }) {
  const lines = [taken.there > 0 && w.open.there(taken.there), taken.twins > 0 && w.open.twins(taken.twins), taken.conflicts > 0 && w.open.conflicts(taken.conflicts)].filter((line) => line !== false);
  return (
    <>
      <p class="said">
        <StateMark name="reading" size={22} /> <span>{[w.open.done(jobTitle(taken.job)), ...lines].join(' ')}</span>
      </p>
      <Button kind="plain" href={href('job', [taken.id])}>
        {w.open.toJob}
      </Button>
    </>
  );
}

/** What is, then what to do; names out of a file come as text, never as anything else. */
export function problemText(error: unknown): string {
  if (error instanceof FileProblem) return FILE_PROBLEM_WORDS[error.code] + (error.detail ? ` (${error.detail.slice(0, 200)})` : '');
  if (error instanceof StoreProblem) return `${STORE_PROBLEM_WORDS[error.code].what} ${STORE_PROBLEM_WORDS[error.code].remedy}`;
  if (error instanceof CoreError) return `${error.message.charAt(0).toUpperCase()}${error.message.slice(1)}.`;
  return error instanceof Error ? error.message : String(error);
}
