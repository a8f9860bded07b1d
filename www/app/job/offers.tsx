// The checks that the start offers, with what each needs. A new check is one more entry here and its words in
// ../words/start.ts; the plates lay themselves out.
import type { ComponentChildren } from 'preact';
import { AmplifierPlate, CablePlate, MeterPlate, MonoPlate, PairPlate, PhonePlate, PracticePlate, RecordingPlate, StereoPlate } from '../ui/drawing/plates';
import { href } from '../ui/route';
import { startWords } from '../words/start';
import type { MyBench } from './keeping';

/** What may stand on a bench, as the person ticks it. */
export type Item = keyof typeof startWords.items;
export const ITEMS = Object.keys(startWords.items) as Item[];

export interface Offer {
  id: string;
  /** Missing: the check is not open yet, and the plate says so. */
  to?: string;
  needs: Item[];
  words: { title: string; does: string; gives: string };
  drawing: ComponentChildren;
}

const p = startWords.plates;

/** The first is the large one. */
export const OFFERS: Offer[] = [
  { id: 'phone', to: href('setup', ['knock'], { sensor: 'microphone' }), needs: ['microphone'], words: p.phone, drawing: <HeroDrawing /> },
  { id: 'cable', to: href('setup', ['knock'], { sensor: 'coil' }), needs: ['cable'], words: p.cable, drawing: <CablePlate /> },
  { id: 'meter', to: href('setup', ['meter']), needs: ['meter', 'resistor'], words: p.meter, drawing: <MeterPlate /> },
  { id: 'amplifier', to: href('setup', ['impedance_by_microphone'], { sensor: 'microphone' }), needs: ['microphone', 'amplifier', 'resistor'], words: p.amplifier, drawing: <AmplifierPlate /> },
  { id: 'stereo', to: href('setup', ['impedance']), needs: ['stereo', 'resistor'], words: p.stereo, drawing: <StereoPlate /> },
  { id: 'mono', to: href('setup', ['impedance_one_channel']), needs: ['mono', 'resistor', 'second_resistor'], words: p.mono, drawing: <MonoPlate /> },
  { id: 'pair', to: href('setup', ['pair']), needs: ['cable', 'second_cable', 'stereo'], words: p.pair, drawing: <PairPlate /> },
  { id: 'push', to: href('setup', ['polarity'], { sensor: 'coil' }), needs: ['cable'], words: p.push, drawing: <CablePlate /> },
  { id: 'click', to: href('setup', ['polarity'], { sensor: 'microphone' }), needs: ['microphone', 'amplifier'], words: p.click, drawing: <AmplifierPlate /> },
  { id: 'joint', to: href('setup', ['loose_joint']), needs: ['stereo', 'resistor'], words: p.joint, drawing: <StereoPlate /> },
  { id: 'recording', to: href('recording'), needs: [], words: p.recording, drawing: <RecordingPlate /> },
  { id: 'practice', to: href('practice'), needs: [], words: p.practice, drawing: <PracticePlate /> },
];

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

/** What a check wants that is not at hand. Before anything was ticked nothing is known, and nothing is missing. */
export function missingFor(needs: Item[], bench: MyBench): Item[] {
  const at = bench.items ?? [];
  // One half of a stereo input is a single input.
  const has = (item: Item) => at.includes(item) || (item === 'mono' && at.includes('stereo'));
  return at.length === 0 ? [] : needs.filter((item) => !has(item));
}
