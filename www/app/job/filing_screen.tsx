// A kept reading goes into a job: either the reading is known and the part is chosen, or the other way round.
import { useEffect, useState } from 'preact/hooks';
import type { Phase } from '../core/types.gen';
import { titleOf } from '../bench/kept_screen';
import { Page, Sheet, Slip } from '../ui/card';
import { Button, Select } from '../ui/controls';
import { useTitle } from '../ui/focus';
import { go, href } from '../ui/route';
import { jobWords } from '../words/job';
import { filed, likelyPhase } from './filing';
import { NotThere } from './not_there';
import { listJobs, newJob, newPart, saveJob, type Job } from './jobs';
import { listReadings, loadBench, readingById, type KeptReading, type Place } from './keeping';
import { jobTitle, partName } from './part_words';
import { backOf } from './place';
import { when } from './when';

const w = jobWords.filing;
const PHASES = Object.entries(jobWords.phases).map(([id, label]) => ({ id, label }));
const NEW = 'new';

interface Choices {
  jobs: Job[];
  readings: KeptReading[];
}

export function FilingScreen({ reading, place }: { reading: string; place: Place | undefined }) {
  const [choices, setChoices] = useState<Choices | 'missing'>();
  useEffect(() => {
    void Promise.all([listJobs(), reading ? readingById(reading).then((kept) => (kept ? [kept] : [])) : listReadings()]).then(([jobs, readings]) => setChoices(reading && readings.length === 0 ? 'missing' : { jobs: jobs.map((k) => k.job), readings }));
  }, []);
  if (!choices) return null;
  return choices === 'missing' ? <NotThere title={w.missing} help={jobWords.missingHelp} /> : <Shown {...choices} known={reading !== ''} place={place} />;
}

function Shown({ jobs, readings, known, place }: Choices & { known: boolean; place: Place | undefined }) {
  const heading = useTitle<HTMLHeadingElement>(w.title);
  const [jobId, setJobId] = useState(place?.job ?? jobs[0]?.id ?? NEW);
  const [partId, setPartId] = useState(place?.part ?? jobs[0]?.parts[0]?.id ?? NEW);
  const [readingId, setReadingId] = useState(readings[0]?.id ?? '');
  const job = jobs.find((j) => j.id === jobId);
  const part = job?.parts.find((p) => p.id === partId);
  const [phase, setPhase] = useState<Phase>(job && part ? likelyPhase(job, part.id) : 'as_found');
  const kept = readings.find((r) => r.id === readingId);
  const pickJob = (id: string) => {
    setJobId(id);
    setPartId(jobs.find((j) => j.id === id)?.parts[0]?.id ?? NEW);
  };
  const file = async () => {
    if (!kept) return;
    const bench = await loadBench();
    const into = job ?? newJob({ title: kept.partName, workshop: bench.workshop ?? '', technician: bench.technician ?? '' });
    const own = part ?? newPart({ model: kept.partName });
    const whole = part ? into : { ...into, parts: [...into.parts, own] };
    await saveJob(filed(whole, own.id, kept, phase));
    go(href('job', [into.id, 'part', own.id]));
  };
  const boxes = { ...(kept ? { part: kept.partName } : {}), check: w.title };
  return (
    <Page kind="check">
      <Sheet
        card={
          <>
            <Slip back={place ? backOf(place) : known && kept ? href('reading', [kept.id]) : href('')} backLabel={jobWords.card.back} boxes={boxes} />
            <div class="card-body">
              <h1 ref={heading} tabIndex={-1}>
                {w.title}
              </h1>
              {known && kept && <p>{aboutOf(kept)}</p>}
              {!known && readings.length === 0 && <p>{jobWords.readings.none}</p>}
              <div class="fields">
                {!known && readings.length > 0 && <Select label={jobWords.readings.title} options={readings.map((r) => ({ id: r.id, label: aboutOf(r) }))} value={readingId} onChange={setReadingId} />}
                <Select label={w.job} options={[...jobs.map((j) => ({ id: j.id, label: jobTitle(j) })), { id: NEW, label: w.new }]} value={jobId} onChange={pickJob} {...(jobs.length === 0 ? { help: w.noJobs } : {})} />
                <Select label={w.part} options={[...(job?.parts ?? []).map((p) => ({ id: p.id, label: [partName(p), p.model].filter(Boolean).join(', ') })), { id: NEW, label: w.newPart }]} value={partId} onChange={setPartId} />
                <Select label={jobWords.readings.phase} options={PHASES} value={phase} onChange={(id) => setPhase(id as Phase)} />
              </div>
            </div>
          </>
        }
        stub={
          <Button kind="main" onPress={() => void file()} {...(kept ? {} : { notYet: jobWords.readings.none })}>
            {w.file}
          </Button>
        }
      />
    </Page>
  );
}

const aboutOf = (kept: KeptReading) => w.about(kept.partName, titleOf(kept), when(kept.createdAt));
