// Start: what is at hand, the checks that it opens, what was read before, and the bench.
import { useEffect, useState } from 'preact/hooks';
import { jobsWords } from '../words/jobs';
import { startWords } from '../words/start';
import { Page, Sheet } from '../ui/card';
import { Button } from '../ui/controls';
import { Rich } from '../ui/symbol';
import { useTitle } from '../ui/focus';
import { href } from '../ui/route';
import { Equipment } from './equipment';
import { JobsList } from './jobs_list';
import { KeptReadings } from './kept';
import { loadBench, saveBench, type MyBench } from './keeping';
import { missingFor, OFFERS, type Item, type Offer } from './offers';

export function Start() {
  const heading = useTitle<HTMLHeadingElement>(startWords.question, false);
  const [bench, setBench] = useState<MyBench>({});
  useEffect(() => {
    void loadBench().then(setBench);
  }, []);
  const keep = async (items: Item[]) => {
    setBench({ ...bench, items });
    // What is kept counts, not what was loaded here: a tick may come before the rest of the bench.
    await saveBench({ ...(await loadBench()), items });
  };
  return (
    <Page kind="start">
      <Sheet
        card={
          <>
            <div class="start-head">
              <h1 ref={heading} tabIndex={-1}>
                {startWords.question}
              </h1>
              <p>{startWords.about}</p>
            </div>
            <div class="at-hand">
              <Equipment legend={startWords.equipment.legend} items={bench.items ?? []} onItems={(items) => void keep(items)} />
            </div>
            <div class="plates">
              {OFFERS.map((offer, i) => (
                <Plate key={offer.id} offer={offer} missing={missingFor(offer.needs, bench)} cls={placeOf(i)} />
              ))}
            </div>
          </>
        }
      />
      <JobsList>
        <Button kind="quiet" href={href('files')}>
          {jobsWords.files}
        </Button>
      </JobsList>
      <KeptReadings />
    </Page>
  );
}

/** Places on the wide page: three columns, the first plate two rows high; the last one fills its row. */
function placeOf(index: number): string {
  if (index === 0) return 'hero';
  const BESIDE_HERO = 4;
  const inRows = OFFERS.length - 1 - BESIDE_HERO;
  const left = inRows > 0 && inRows % 3 !== 0 ? 3 - (inRows % 3) : 0;
  return index === OFFERS.length - 1 && left > 0 ? `spans-${left + 1}` : '';
}

function Plate({ offer, missing, cls }: { offer: Offer; missing: Item[]; cls: string }) {
  const { to, words, drawing } = offer;
  const open = to !== undefined && missing.length === 0;
  const inner = (
    <>
      {cls === 'hero' && missing.length === 0 && <span class="nothing-else marked only-wide">{startWords.nothingElse}</span>}
      <div class="picture">{drawing}</div>
      <div>
        <h2>{words.title}</h2>
        <p class="does">
          <Rich text={words.does} />
        </p>
        <p class="gives">
          <Rich text={words.gives} />
        </p>
        {!open && <p class="later-note">{to === undefined ? startWords.later : startWords.missing(missing.map((item) => startWords.items[item].part))}</p>}
      </div>
    </>
  );
  return open ? (
    <a class={`plate ${cls}`} href={to}>
      {inner}
    </a>
  ) : (
    <div class={`plate later ${cls}`}>{inner}</div>
  );
}
