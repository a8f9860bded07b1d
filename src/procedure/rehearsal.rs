//! For tests: a person and a bench that answer every step in all the ways they could.

use super::step::{Action, Answer, ChannelNote, Field, Happening, KnockNote, ReadingNote, Step, TakeNote, TakeUse};
use crate::math::random::Random;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::Outcome;
use std::collections::BTreeMap;

/// A channel as an ideal bench would return it.
pub(super) fn channel(peak_dbfs: f64, snr_db: f64) -> ChannelNote {
    ChannelNote {
        peak_dbfs,
        rms_dbfs: peak_dbfs - 10.0,
        clipped_samples: 0,
        snr_db: Some(snr_db),
        signal_dbfs: Some(peak_dbfs - 10.0),
        drift_db: Some(0.01),
    }
}

/// Answers a step as a careful person on a good bench does; `ohm` is what is typed where numbers are asked for.
pub(super) fn straight_on(next: &Step, count: usize, ohm: f64) -> Happening {
    let id = next.id.clone();
    match &next.action {
        Action::Tick { items, .. } => {
            let answers = items.iter().map(|i| (i.id.clone(), Answer::Bool(true))).collect();
            Happening::Confirmed { step: id, answers }
        }
        Action::Confirm { .. } => Happening::Confirmed { step: id, answers: BTreeMap::new() },
        Action::Ask { fields, .. } => {
            let answers = fields.iter().map(|f| (f.id.clone(), Answer::Number(ohm))).collect();
            Happening::Confirmed { step: id, answers }
        }
        Action::Play { .. } => took(next, &format!("take {count}"), 9),
        Action::Analyse { takes, .. } => Happening::Read { reading: reading(takes, 3) },
        Action::Done { .. } => Happening::Finished,
        other => panic!("{}: {other:?}", next.id),
    }
}

/// An answer to a step, of many that are possible; `random` chooses.
pub(super) fn respond(step: &Step, random: &mut Random, count: usize) -> Happening {
    let others = step.choices.len();
    match random.below(12) {
        0 if others > 0 => chosen(step, &step.choices[random.below(others)].id),
        1 if count % 3 == 0 => Happening::SteppedBack,
        2 if count % 5 == 0 => Happening::Voided { step: step.id.clone(), reason: "The page was hidden.".to_owned() },
        3 if count % 4 == 0 => Happening::SetAside { take: format!("take {}", count / 2), knock: None },
        _ => act(step, random, count),
    }
}

pub(super) fn chosen(step: &Step, id: &str) -> Happening {
    Happening::Chosen { step: step.id.clone(), choice: id.to_owned() }
}

fn act(step: &Step, random: &mut Random, count: usize) -> Happening {
    match &step.action {
        Action::Tick { items, .. } => {
            let all = random.below(6) > 0;
            let answers = items.iter().map(|i| (i.id.clone(), Answer::Bool(all))).collect();
            Happening::Confirmed { step: step.id.clone(), answers }
        }
        Action::Confirm { .. } => Happening::Confirmed { step: step.id.clone(), answers: BTreeMap::new() },
        Action::Ask { fields, .. } => {
            let answers = fields.iter().filter_map(|f| Some((f.id.clone(), number(f, random)?))).collect();
            Happening::Confirmed { step: step.id.clone(), answers }
        }
        Action::Sound { stimulus, fields, .. } => {
            let answers = fields.iter().filter_map(|f| Some((f.id.clone(), number(f, random)?)));
            let own = ("frequency_hz".to_owned(), Answer::Number(stimulus.low_hz));
            Happening::Confirmed { step: step.id.clone(), answers: answers.chain([own]).collect() }
        }
        Action::Play { .. } => took(step, &format!("take {count}"), random.below(8)),
        Action::Listen { .. } => listened(step, random, count),
        Action::Analyse { takes, .. } => Happening::Read { reading: reading(takes, random.below(4)) },
        Action::Done { next } => match random.below(next.len() + 1) {
            n if n < next.len() => chosen(step, &next[n].id),
            _ => Happening::Finished,
        },
        Action::Refuse { .. } if step.choices.is_empty() => Happening::SteppedBack,
        Action::Refuse { .. } => chosen(step, &step.choices[random.below(step.choices.len())].id),
    }
}

fn number(field: &Field, random: &mut Random) -> Option<Answer> {
    match random.below(8) {
        0 if field.optional => None,
        0 => Some(Answer::Number(field.low / 10.0)),
        1 => Some(Answer::Number(f64::NAN)),
        _ => Some(Answer::Number(field.default.unwrap_or((field.low * field.high).sqrt()))),
    }
}

/// A take of what the step plays; `manner` decides how it went.
pub(super) fn took(step: &Step, id: &str, manner: usize) -> Happening {
    let Action::Play { stimulus, role, resistor_ohm, added_mass_kg, box_volume_m3, .. } = &step.action else {
        panic!("{} plays nothing", step.id)
    };
    let peak = stimulus.peak_dbfs;
    let snr = 70.0 + peak;
    let driver_down = match role.as_str() {
        "same_node" => 0.0,
        "open" => 0.3,
        "short" => 50.0,
        _ => 12.0,
    };
    let mut channels = vec![channel(peak - 3.0, snr), channel(peak - 3.0 - driver_down, snr - driver_down.min(12.0))];
    let mut notices = Vec::new();
    match manner {
        0 => channels.iter_mut().for_each(|c| c.clipped_samples = 20),
        1 => channels.iter_mut().for_each(|c| c.snr_db = Some(3.0)),
        2 => channels[1].snr_db = Some(2.0),
        3 => notices.push(Notice::new(Code::SameChannels, &[])),
        4 => channels.swap(0, 1),
        5 => {
            channels[0].drift_db = Some(2.0);
            notices.push(Notice::new(Code::Gap, &[]));
        }
        _ => {}
    }
    let take = TakeNote {
        id: id.to_owned(),
        role: role.clone(),
        stimulus_peak_dbfs: Some(peak),
        resistor_ohm: *resistor_ohm,
        load_ohm: None,
        added_mass_kg: *added_mass_kg,
        box_volume_m3: *box_volume_m3,
        duration_s: 5.0,
        channels,
        knocks: Vec::new(),
        notices,
    };
    Happening::Took { step: step.id.clone(), take }
}

/// A knock.
pub(super) fn knock(time_s: f64, peak_dbfs: f64, frequency_hz: f64, q: f64) -> KnockNote {
    KnockNote { channel: 1, time_s, peak_dbfs, frequency_hz: Some(frequency_hz), q: Some(q), set_aside: None }
}

/// Knocks of one take; `manner` decides how they went.
fn knocks(manner: usize, resonance: (f64, f64)) -> Vec<KnockNote> {
    let (f, q) = resonance;
    match manner {
        0 => Vec::new(),
        1 => (0..6).map(|i| knock(3.0 * f64::from(i), 0.0, f, q)).collect(),
        2 => (0..6).map(|i| knock(3.0 * f64::from(i), -60.0, f, q)).collect(),
        3 => vec![knock(1.0, -12.0, f, q)],
        _ => (0..6).map(|i| knock(3.0 * f64::from(i), -12.0, f, q)).collect(),
    }
}

fn listened(step: &Step, random: &mut Random, count: usize) -> Happening {
    let Action::Listen { channel, second_channel, load_ohm, added_mass_kg, .. } = &step.action else {
        panic!("{} hears nothing", step.id)
    };
    let resonance = match (load_ohm, added_mass_kg) {
        (Some(_), _) => (30.0, [0.7, 1.6, 4.5][random.below(3)]),
        (None, Some(_)) => ([29.5, 25.0, 18.0][random.below(3)], 5.0),
        (None, None) => (30.0, 5.0),
    };
    let knocks = on_each(&knocks(random.below(9), resonance), *channel, *second_channel);
    if random.below(3) == 0 {
        let some = knocks.into_iter().take(1 + count % 5).collect();
        return Happening::Heard { step: step.id.clone(), knocks: some };
    }
    let mut happening = heard_take(step, &format!("take {count}"), knocks);
    if let (Happening::Took { take, .. }, Some(second)) = (&mut happening, second_channel) {
        match random.below(8) {
            0 => take.notices.push(Notice::new(Code::SameChannels, &[])),
            1 => {
                take.notices.push(Notice::new(Code::DeadChannel, &[("channel", *second as f64)]));
                take.knocks.retain(|k| k.channel != *second);
            }
            _ => {}
        }
    }
    happening
}

/// The same knocks on every channel that is listened to, in turn.
pub(super) fn on_each(knocks: &[KnockNote], channel: usize, second: Option<usize>) -> Vec<KnockNote> {
    let channels: Vec<usize> = [channel].into_iter().chain(second).collect();
    knocks.iter().flat_map(|k| channels.iter().map(|c| KnockNote { channel: *c, ..k.clone() })).collect()
}

/// The finished take of a listening step.
pub(super) fn heard_take(step: &Step, id: &str, knocks: Vec<KnockNote>) -> Happening {
    let Action::Listen { load_ohm, added_mass_kg, box_volume_m3, .. } = &step.action else {
        panic!("{} hears nothing", step.id)
    };
    let take = TakeNote {
        id: id.to_owned(),
        role: "free".to_owned(),
        stimulus_peak_dbfs: None,
        resistor_ohm: None,
        load_ohm: *load_ohm,
        added_mass_kg: *added_mass_kg,
        box_volume_m3: *box_volume_m3,
        duration_s: 20.0,
        channels: vec![channel(-12.0, 40.0)],
        knocks,
        notices: Vec::new(),
    };
    Happening::Took { step: step.id.clone(), take }
}

/// A reading of these takes; `manner` decides how it ended.
pub(super) fn reading(takes: &[TakeUse], manner: usize) -> ReadingNote {
    let (outcome, code) = match manner {
        0 => (Outcome::Refused, Some(Code::Clipped)),
        1 => (Outcome::Doubtful, Some(Code::SwappedChannels)),
        _ => (Outcome::Reading, None),
    };
    let values = [("f_s_hz", 30.0), ("q_ms", 5.0), ("q_es", 0.4), ("r_e_ohm", 6.0)];
    ReadingNote {
        takes: takes.iter().map(|t| t.id.clone()).collect(),
        outcome,
        refusal: code.filter(|_| outcome == Outcome::Refused).map(|c| Notice::new(c, &[])),
        warnings: code.into_iter().collect(),
        values: values.map(|(name, value)| (name.to_owned(), value)).into(),
    }
}

/// Happenings without rhyme or reason, to prove that nothing can make a procedure stumble.
pub(super) fn nonsense(random: &mut Random, steps: &[&str], choices: &[&str]) -> Happening {
    let step = steps[random.below(steps.len())].to_owned();
    let id = format!("take {}", random.below(4));
    let wild = [f64::NAN, f64::INFINITY, -1e300, 0.0, -20.0, 5.0][random.below(6)];
    match random.below(10) {
        0 => Happening::SteppedBack,
        1 => Happening::Finished,
        2 => Happening::Voided { step, reason: String::new() },
        3 => Happening::SetAside {
            take: if wild > 0.0 { String::new() } else { id },
            knock: Some(random.below(4) as u32),
        },
        4 => Happening::SetAside { take: id, knock: None },
        5 => Happening::Chosen { step, choice: choices[random.below(choices.len())].to_owned() },
        6 => Happening::Heard { step, knocks: vec![knock(wild, wild, wild, wild); random.below(9)] },
        7 => {
            let names = [
                "output_v",
                "resistor_ohm",
                "load_ohm",
                "r_e_ohm",
                "added_mass_kg",
                "box_volume_m3",
                "ground_checked",
                "attitude",
            ];
            let answers = [Answer::Number(wild), Answer::Bool(true), Answer::Text("face_up".to_owned())];
            let answers = names.map(|n| (n.to_owned(), answers[random.below(3)].clone())).into();
            Happening::Confirmed { step, answers }
        }
        8 => {
            let uses: Vec<TakeUse> = Vec::new();
            Happening::Read { reading: ReadingNote { takes: vec![id], ..reading(&uses, random.below(3)) } }
        }
        _ => {
            let channels = (0..random.below(4)).map(|_| channel(wild, -wild)).collect();
            let take = TakeNote {
                id,
                role: step.clone(),
                stimulus_peak_dbfs: (wild < 1.0).then_some(wild),
                resistor_ohm: Some(wild),
                load_ohm: Some(wild),
                added_mass_kg: Some(wild),
                box_volume_m3: Some(wild),
                duration_s: wild,
                channels,
                knocks: vec![knock(wild, wild, wild, wild); random.below(9)],
                notices: Vec::new(),
            };
            Happening::Took { step, take }
        }
    }
}
