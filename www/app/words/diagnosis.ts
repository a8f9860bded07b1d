// What a part suffers from: what is, why, by what evidence, and what to do next. `other` is what the part was held against:
// the partner's name, 'the earlier reading' or 'the published figures'.
import type { DiagnosisAction, DiagnosisConclusion, FaultPattern, FindingConfidence, UnseenFault, WhoseFault } from '../core/types.gen';

interface PatternWords {
  /** As a heading, or within a list. */
  name: string;
  /** What is, by whose fault it would be. */
  says: Record<WhoseFault, (part: string, other: string) => string>;
  /** What usually lies behind it. */
  cause: string;
  /** How it shows in the figures. */
  shows: string;
  /** What the severity in per cent counts; none where a check shows the fault itself. */
  counts: string | null;
}

/** Where only one of the two can have it, a difference 'either way' is said in the same words. */
const one = (says: (who: string) => string): PatternWords['says'] => ({
  part: (part) => says(part),
  reference: (_, other) => says(other),
  either: (part, other) => `${says(part)} Or the other way round with ${other}.`,
});

/** A difference that has no side of its own. */
const two = (alone: (part: string, other: string) => string, either: (part: string, other: string) => string): PatternWords['says'] => ({
  part: alone,
  reference: (part, other) => alone(other, part),
  either,
});

const PATTERNS: Record<FaultPattern, PatternWords> = {
  suspension_stiff: {
    name: 'suspension too stiff',
    says: two(
      (part, other) => `The suspension of ${part} is stiffer than ${other} asks for.`,
      (part, other) => `The suspension of ${part} is stiffer than that of ${other}. Either this one is too stiff or not broken in, or the other one is too soft.`,
    ),
    cause: 'A surround or spider of stiffer material, one that is not broken in yet, or a roll glued out of its neutral place.',
    shows: 'f_s, Q_ms and Q_es are higher by one factor; R_e and the upper impedance are not.',
    counts: 'stiffness',
  },
  suspension_soft: {
    name: 'suspension too soft',
    says: two(
      (part, other) => `The suspension of ${part} is softer than ${other} asks for.`,
      (part, other) => `The suspension of ${part} is softer than that of ${other}. Either this one is too soft or worn, or the other one is too stiff or not broken in.`,
    ),
    cause: 'A surround or spider of softer material, a spider that has tired, or a surround that comes off its glue.',
    shows: 'f_s, Q_ms and Q_es are lower by one factor; R_e and the upper impedance are not.',
    counts: 'stiffness',
  },
  added_mass: {
    name: 'more mass on the cone',
    says: one((who) => `More mass moves in ${who}.`),
    cause: 'Too much glue, a heavy cap, or a cone of another make.',
    shows: 'f_s is lower while Q_ms and Q_es are higher; the level in the mid band is lower.',
    counts: 'moving mass',
  },
  weak_motor: {
    name: 'weak motor',
    says: one((who) => `The motor of ${who} is weak.`),
    cause: 'A magnet that has lost strength, a coil that sits too high or too low in the gap, or fewer turns than ordered.',
    shows: 'Q_es is higher and the peak lower; f_s, Q_ms and R_e are not changed.',
    counts: 'force factor Bl',
  },
  shorted_turns: {
    name: 'shorted turns',
    says: one((who) => `Turns of the coil of ${who} are shorted.`),
    cause: 'Turns that touch where the varnish is burnt or scratched, or a coil wound with such a place.',
    shows: 'The impedance from 1 to 10 kHz, Q_ms and the peak are lower, R_e a little; Q_ts and loudness hardly move.',
    counts: 'turns that are shorted',
  },
  rub: {
    name: 'the coil rubs',
    says: one((who) => `The coil of ${who} rubs.`),
    cause: 'A coil that is not centred, dirt or glue in the gap, or a former that is not round.',
    shows: 'The ring after a knock ends in a straight line and not in a curve; Q_ms and the peak are low and change with level.',
    counts: null,
  },
  loss_changed: {
    name: 'another mechanical loss',
    says: two(
      (part, other) => `The mechanical loss of ${part} is not what ${other} asks for.`,
      (part, other) => `The mechanical loss of ${part} is not that of ${other}.`,
    ),
    cause: 'A former of another material (one that does not conduct raises Q_ms by half or more), other glue, or a surround that damps more or less.',
    shows: 'Q_ms and the peak have moved, f_s and Q_es have not.',
    counts: 'mechanical loss',
  },
  other_wire: {
    name: 'a coil of another wire',
    says: two(
      (part, other) => `The coil of ${part} is not wound as ${other} asks for.`,
      (part, other) => `The coils of ${part} and ${other} are not wound alike.`,
    ),
    cause: 'Wire of another thickness or metal, or another number of turns.',
    shows: 'R_e is off, and Q_es with it unless the turns make up for it.',
    counts: 'R_e',
  },
  loose_lead: {
    name: 'a loose lead or joint',
    says: one((who) => `A lead or joint of ${who} opens when it is moved.`),
    cause: 'A cold joint, a broken strand in the lead-out, or a worn terminal.',
    shows: 'The tone drops out while leads and cone are moved.',
    counts: null,
  },
  open_circuit: {
    name: 'no current flows',
    says: one((who) => `No current flows through ${who}.`),
    cause: 'A coil that has burnt through, a lead-out that has come off, or a clip that does not touch.',
    shows: 'The driver’s side reads as open.',
    counts: null,
  },
  short_circuit: {
    name: 'the terminals are joined',
    says: one((who) => `The terminals of ${who} are joined.`),
    cause: 'Leads or strands that touch, or a coil that touches the frame at both ends.',
    shows: 'The driver’s side reads as short.',
    counts: null,
  },
};

const CONCLUSIONS: Record<DiagnosisConclusion, (part: string, other: string) => string> = {
  sound: (part, other) => `Sound: ${part} differs from ${other} by no more than good ones do.`,
  found: () => 'Found: one fault explains what was measured, and no other does.',
  undecided: (part) => `Something is wrong with ${part}, and more than one fault would explain it.`,
  unexplained: (part, other) => `${part} differs from ${other} by more than good ones do, and no single fault explains how.`,
  too_little: () => 'There is too little to compare. Nothing can be said, neither good nor bad.',
};

const CONFIDENCE: Record<FindingConfidence, string> = {
  sure: 'sure: every other fault is more than 1000 times less likely, or a check shows this very fault',
  likely: 'likely: every other fault is more than 20 times less likely',
  possible: 'possible: one of several',
};

const ACTIONS: Record<DiagnosisAction, string> = {
  nothing: 'Nothing has to be done.',
  break_in: 'Break it in for some hours, let it rest, and take it again. If it stays stiff, look at surround and spider.',
  look_at_suspension: 'Look at surround and spider: the right ones, whole, glued all around?',
  weigh_cone: 'Take both once more with a weight on the cone: that tells the moving mass by itself.',
  look_at_glue: 'Look at the glue and the cap, and compare with the partner’s.',
  look_at_gap: 'Look where the coil rests in the gap, and whether the magnet was dropped or taken apart.',
  replace_coil: 'Measure it again cold and warm. If it stays, the coil has to be replaced.',
  centre_coil: 'Centre the coil and clean the gap, then knock on it again. Do not drive it hard before.',
  ask_materials: 'Ask what former, glue and surround were used.',
  compare_winding: 'Compare wire and turns with what was ordered, and check R_e with a meter at room temperature.',
  mend_lead: 'Find the place and mend it, then take everything again: figures read through it tell nothing.',
  knock: 'Knock on it with open terminals: the ring tells a rub from other loss.',
  measure_impedance: 'Measure the impedance of both in the same jig, up to 10 kHz.',
  repeat: 'Take both again in the same jig, with more takes.',
  another_reference: 'Hold it against another part or published figures, and check that both are of the same make.',
};

const UNSEEN: Record<UnseenFault, string> = {
  hits_at_large_travel: 'a coil that hits at large travel',
  slap_or_loose_cap: 'a lead that slaps, a loose cap',
  roll_out_of_neutral: 'a roll glued out of neutral: it looks stiff',
  scrape_at_large_travel: 'a scrape at large travel only',
};

export const diagnosisWords = {
  title: 'What is wrong with it?',
  patterns: PATTERNS,
  conclusions: CONCLUSIONS,
  confidence: CONFIDENCE,
  actions: ACTIONS,
  unseen: UNSEEN,
  next: 'What to do next',
  evidence: 'What differs',
  evidenceHelp: 'This part over the other, what the readings leave open (±), and how far good ones lie apart: common practice, no source.',
  measured: 'measured',
  usual: 'good ones, up to',
  expected: 'this fault would give',
  severity: (counts: string, percent: string, half: string) => `${counts}: ${percent} ± ${half} %`,
  lessLikely: (times: string) => `${times} times less likely than the likeliest`,
  confused: 'Easily taken for',
  confusedHelp: 'In simulated pairs with this fault, the answer was one of these, or could not part them, in more than 1 of 50.',
  notShown: 'What these readings would rather miss than show',
  noCheckYet: 'What none of these checks can show',
  falseAlarms: 'One good part of a hundred is called faulty.',
  references: { earlier: 'the earlier reading', published: 'the published figures' },
  level: 'level in the mid band',
};
