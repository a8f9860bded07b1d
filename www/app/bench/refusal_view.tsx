// A refusal: what is, the evidence, the numbers, the remedy in steps, and that the take is kept.
import type { Choice, Notice } from '../core/types.gen';
import type { KeptReading } from '../job/keeping';
import { Button } from '../ui/controls';
import { RefusedTicket, StateMark } from '../ui/marks';
import { firstSentence, lowerFirst, NumbersList, remedySteps } from '../ui/notices';
import { Rich } from '../ui/symbol';
import { readingWords } from '../words/reading';
import { evidenceOf } from './evidence';
import { SaveWavs } from './take_away';

const w = readingWords.refused;

export function RefusalBody({ notice, kept, takes, heading }: { notice: Notice; kept: KeptReading | undefined; takes: number; heading: preact.RefObject<HTMLHeadingElement> }) {
  const evidence = kept?.reading.refusal ? evidenceOf(kept.reading) : null;
  return (
    <div class="card-body">
      <div class="refused-head">
        <div>
          <span class="small-mark">
            <StateMark name="refused" size={48} />
          </span>
          <h1 ref={heading} tabIndex={-1} aria-live="polite">
            {w.before}: <Rich text={lowerFirst(firstSentence(notice.message)[0])} />
          </h1>
          <p class="plain">
            <Rich text={firstSentence(notice.message)[1]} /> {w.plain}
          </p>
        </div>
        <RefusedTicket word={w.word} under={takes > 0 ? `${readingWords.take.toUpperCase()} ${takes}` : ''} />
      </div>
      {evidence && (
        <section class="plot-head">
          <h2>{w.evidence}</h2>
          {evidence}
        </section>
      )}
      {Object.keys(notice.numbers).length > 0 && (
        <section>
          <h2 class="unheard">{w.numbers}</h2>
          <NumbersList notice={notice} />
        </section>
      )}
      <section class="print-only">
        <h2>{w.putRight}</h2>
        <p>{notice.remedy}</p>
      </section>
    </div>
  );
}

export function RefusalStub({ notice, choices, onChoose, kept, takesCount }: { notice: Notice; choices: Choice[]; onChoose: (id: string) => void; kept: KeptReading | undefined; takesCount: number }) {
  return (
    <>
      <h2>{w.putRight}</h2>
      <ol class="steps">
        {remedySteps(notice.remedy).map((text, i) => (
          <li key={i}>
            <span class="number" aria-hidden="true">
              {i + 1}
            </span>
            <span>
              <Rich text={text} />
            </span>
          </li>
        ))}
      </ol>
      <div class="buttons">
        {choices.map((choice, i) => (
          <Button key={choice.id} kind={i === 0 ? 'main' : 'quiet'} onPress={() => onChoose(choice.id)}>
            {choice.label}
          </Button>
        ))}
      </div>
      {takesCount > 0 && (
        <div class="foot">
          <p class="note">
            <strong>{w.kept(takesCount)}</strong> {w.keptHelp}
          </p>
          {kept && <SaveWavs takes={kept.takes} name={kept} />}
        </div>
      )}
    </>
  );
}
