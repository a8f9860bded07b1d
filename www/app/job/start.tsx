// Start: what is at hand, what was read before, and the bench.
import type { ComponentChildren } from 'preact';
import { startWords } from '../words/start';
import { Page, Sheet } from '../ui/card';
import { AmplifierPlate, CablePlate, MeterPlate, PhonePlate, PracticePlate, RecordingPlate, StereoPlate } from '../ui/drawing/plates';
import { Rich } from '../ui/symbol';
import { href } from '../ui/route';
import { useTitle } from '../ui/focus';
import { KeptReadings } from './kept';

export function Start() {
  const heading = useTitle<HTMLHeadingElement>(startWords.question, false);
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
            <Plates />
          </>
        }
      />
      <KeptReadings />
    </Page>
  );
}

function Plates() {
  const p = startWords.plates;
  return (
    <div class="plates">
      <Plate to={href('setup', ['knock'], { sensor: 'microphone' })} words={p.phone} cls="hero" drawing={<HeroDrawing />} hint={startWords.nothingElse} />
      <Plate to={href('setup', ['knock'], { sensor: 'coil' })} words={p.cable} drawing={<CablePlate />} />
      <Plate words={p.meter} cls="last-column" drawing={<MeterPlate />} />
      <Plate words={p.amplifier} drawing={<AmplifierPlate />} />
      <Plate to={href('setup', ['impedance'])} words={p.stereo} cls="last-column" drawing={<StereoPlate />} />
      <Plate to={href('recording')} words={p.recording} cls="last-row" drawing={<RecordingPlate />} />
      <Plate to={href('practice')} words={p.practice} cls="last-row last-column two-columns" drawing={<PracticePlate />} />
    </div>
  );
}

function HeroDrawing() {
  return (
    <>
      <span class="only-wide">
        <PhonePlate large />
      </span>
      <span class="only-narrow">
        <PhonePlate />
      </span>
    </>
  );
}

interface PlateProps {
  /** Missing: this check is not open yet, and the plate says so. */
  to?: string;
  words: { title: string; does: string; gives: string };
  drawing: ComponentChildren;
  cls?: string;
  hint?: string;
}

function Plate({ to, words, drawing, cls = '', hint }: PlateProps) {
  const inner = (
    <>
      {hint && <span class="nothing-else marked only-wide">{hint}</span>}
      <div class="picture">{drawing}</div>
      <div>
        <h2>{words.title}</h2>
        <p class="does">
          <Rich text={words.does} />
        </p>
        <p class="gives">
          <Rich text={words.gives} />
        </p>
        {!to && <p class="later-note">{startWords.later}</p>}
      </div>
    </>
  );
  return to ? (
    <a class={`plate ${cls}`} href={to}>
      {inner}
    </a>
  ) : (
    <div class={`plate later ${cls}`}>{inner}</div>
  );
}
