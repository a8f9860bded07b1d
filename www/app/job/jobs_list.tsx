// The jobs on the first screen.
import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { fixed, NBSP } from '../ui/format';
import { StateMark } from '../ui/marks';
import { Sheet } from '../ui/card';
import { Button } from '../ui/controls';
import { go, href } from '../ui/route';
import { jobsWords } from '../words/jobs';
import { desk } from './desk_with_styles';
import { ExportReminder } from './export_reminder';
import { listJobs, newJob, removeJob, saveJob, type KeptJob } from './jobs';
import { loadBench } from './keeping';
import { jobTitle } from './part_words';
import { when } from './when';

const w = jobsWords.list;

/** `children`: further things that can be done with jobs as a whole. */
/** Made by the desk's own code, which comes when it is asked for. */
function DemoButton() {
  const [said, setSaid] = useState('');
  const make = async () => {
    if (said) return;
    setSaid(w.demo.making(percentText(0)));
    try {
      const { makeDemo } = await desk();
      go(href('job', [await makeDemo((done) => setSaid(w.demo.making(percentText(done))))]));
    } catch (error) {
      setSaid(error instanceof Error ? error.message : String(error));
    }
  };
  return (
    <>
      <Button kind="plain" onPress={() => void make()}>
        {w.demo.open}
      </Button>
      <p class="note" role="status">
        {said || w.demo.about}
      </p>
    </>
  );
}

const percentText = (share: number) => `${fixed(100 * share, 0)}${NBSP}%`;

export function JobsList({ children }: { children?: ComponentChildren }) {
  const [jobs, setJobs] = useState<KeptJob[]>();
  const [undo, setUndo] = useState<{ said: string; act: () => Promise<void> }>();
  const refresh = async () => setJobs(await listJobs());
  useEffect(() => void refresh(), []);
  const begin = async () => {
    const { workshop = '', technician = '' } = await loadBench();
    const job = await saveJob(newJob({ workshop, technician, received_on: new Date().toISOString().slice(0, 10) }));
    go(href('job', [job.id, 'card']));
  };
  const remove = async ({ id, job }: KeptJob) => {
    const act = await removeJob(id);
    setUndo({ said: w.removed(jobTitle(job)), act });
    await refresh();
  };
  const putBack = async () => {
    await undo?.act();
    setUndo(undefined);
    await refresh();
  };
  return (
    <Sheet
      whole
      stubLabel={w.stub}
      card={
        <section aria-labelledby="jobs">
          <div class="list-head">
            <h2 id="jobs">{w.title}</h2>
          </div>
          <div role="status">
            {undo && (
              <p class="list-said said">
                <StateMark name="empty" /> <span>{undo.said}</span>
                <button type="button" class="text-button" onClick={() => void putBack()}>
                  {w.undo}
                </button>
              </p>
            )}
          </div>
          {jobs?.length === 0 && (
            <p class="list-empty">
              <StateMark name="empty" /> {w.none}
            </p>
          )}
          <ul class="kept">
            {jobs?.map((kept) => (
              <li key={kept.id}>
                <div>
                  <a class="part" href={href('job', [kept.id])}>
                    {jobTitle(kept.job)}
                  </a>
                  <p class="note">
                    {[kept.job.number, w.parts(kept.job.parts.length), w.changed(when(kept.changedAt))].filter(Boolean).join(', ')}
                  </p>
                  <ExportReminder kept={kept} title={jobTitle(kept.job)} />
                </div>
                <div class="acts">
                  <button type="button" class="text-button" aria-label={w.removeNamed(jobTitle(kept.job))} onClick={() => void remove(kept)}>
                    {w.remove}
                  </button>
                </div>
              </li>
            ))}
          </ul>
        </section>
      }
      stub={
        <>
          <p class="note">{w.about}</p>
          <div class="buttons">
            <Button kind="main" onPress={() => void begin()}>
              {w.begin}
            </Button>
            <DemoButton />
            {children}
          </div>
        </>
      }
    />
  );
}
