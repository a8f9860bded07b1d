//! The calibrations of the jig, each asked for in plain words and each skippable: 'both inputs on one clip',
//! 'prove with a resistor', 'zero the leads'. 'The inputs alone' is offered, not asked for: inputs of 10 kΩ and more take
//! next to nothing. Afterwards the driver is connected again.

use super::super::bench::{ImpedanceBench, Output};
use super::super::build::{choice, ohm_field, ohm_words};
use super::super::past::Past;
use super::super::step::{Action, ChannelNote, Choice, DrawingKind, Happening, Stage, Step, TakeNote};
use super::super::{cautions, defaults};
use super::connect::jig;
use super::level::{channel, found, gap, is_clipped, snr};
use crate::signal::notice::{Code, Notice};

/// Known resistors that prove anything, ohms.
const KNOWN_OHM: (f64, f64) = (1.0, 1000.0);
/// 'On one clip': the two levels agree within this. Two inputs of one device, with their gain knobs set alike.
const ONE_CLIP_DB: f64 = 3.0;
/// A known resistor whose level ratio is further off than this is another resistor (or not there).
const KNOWN_WITHIN: f64 = 0.15;
/// The same where the inputs were never compared on one clip: 3 dB of gain difference are 41 % more.
const UNMATCHED_WITHIN: f64 = 0.6;
/// Shorted clips leave at most this much of the source's level: 2 Ω of leads behind 18 Ω and more.
const SHORTED_DB: f64 = -20.0;
/// With nothing in the driver's place the divider takes away less than this: an input of ten times the resistor.
const OPEN_DB: f64 = -1.0;
/// An input with a peak above this hears something. Common practice, no source.
const HEARD_DBFS: f64 = -50.0;
/// All of them, as steps and roles.
pub(super) const STEPS: [&str; 4] = ["same_node", "known_resistor", "short", "open"];

/// Station: the calibrations in order, then back to the driver.
pub(super) fn calibrate(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    for step in STEPS {
        if !is_wanted(bench, past, step) {
            continue;
        }
        if step == "known_resistor" && known_ohm(past).is_none() {
            return Some(ask_known(past));
        }
        let takes = past.takes(step);
        let (count, last) = (takes.len(), takes.last());
        match last.map(|(_, take)| fault(bench, past, step, take)) {
            Some(None) => continue,
            Some(Some(notice)) => return Some(play(bench, past, step, count, Some(notice))),
            None => return Some(play(bench, past, step, count, None)),
        }
    }
    reconnect(bench, past)
}

/// Good takes of a calibration: the last one only.
pub(super) fn good_take<'a>(bench: &ImpedanceBench, past: &Past<'a>, step: &str) -> Option<(usize, &'a TakeNote)> {
    past.takes(step).last().copied().filter(|(_, take)| fault(bench, past, step, take).is_none())
}

/// Asked for unless skipped; on the practice bench, and the inputs alone everywhere, only where chosen.
fn is_wanted(bench: &ImpedanceBench, past: &Past, step: &str) -> bool {
    let last = past.events().iter().rev().find_map(|e| match e {
        Happening::Chosen { step: at, choice } if choice == step && offered_at(at) => Some(true),
        Happening::Chosen { step: at, choice } if choice == "skip" && belongs(at, step) => Some(false),
        Happening::Chosen { choice, .. } if choice == "skip_calibrations" => Some(false),
        _ => None,
    });
    last.unwrap_or(!bench.practice && step != "open")
}

/// A calibration can be chosen beside a reading, and while the leads are off the driver.
fn offered_at(step: &str) -> bool {
    step.starts_with("read") || step == "reconnect"
}

fn belongs(at: &str, step: &str) -> bool {
    at == step || (at == "known_resistor_value" && step == "known_resistor")
}

/// Value of the resistor in the driver's place.
fn known_ohm(past: &Past) -> Option<f64> {
    past.number("known_resistor_value", "resistor_ohm").filter(|r| (KNOWN_OHM.0..=KNOWN_OHM.1).contains(r))
}

fn skips() -> Vec<Choice> {
    vec![
        choice("skip", "Skip this one", "The budget then carries what it would have taken out."),
        choice("skip_calibrations", "Skip all calibrations", "Straight to the driver."),
    ]
}

fn ask_known(past: &Past) -> Step {
    let help = "As a meter reads it, or a part of 1 % and better. About as large as the driver's own resistance.";
    let field = ohm_field("resistor_ohm", "The known resistor", KNOWN_OHM, None, help);
    let note = match past.number("known_resistor_value", "resistor_ohm") {
        Some(_) => "That lies outside 1 to 1000 Ω.",
        None => "It takes the driver's place for one take and proves the whole jig.",
    };
    let action = Action::Ask { fields: vec![field], button: "Keep".to_owned() };
    Step::new(Stage::Measure, "known_resistor_value", "Prove with a resistor: which one?", action)
        .note(note)
        .choices(skips())
}

fn play(bench: &ImpedanceBench, past: &Past, step: &str, tries: usize, fault: Option<Notice>) -> Step {
    let (level_dbfs, _) = found(bench, past);
    let stimulus = defaults::level(bench.rate_hz, level_dbfs);
    let seconds = defaults::seconds(&stimulus) + defaults::tail_s(bench.practice);
    let known = known_ohm(past).filter(|_| step == "known_resistor");
    let (sentence, note, kind) = words(step);
    let label = known.map(|ohm| ("known_resistor", ohm_words(ohm)));
    let action = Action::Play {
        stimulus,
        role: step.to_owned(),
        tail_s: defaults::tail_s(bench.practice),
        resistor_ohm: known,
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.source_channel, bench.driver_channel],
        by_itself: false,
        button: "Play".to_owned(),
    };
    let amplifier = bench.output == Output::Amplifier && step == "short" && !bench.practice;
    Step::new(Stage::Measure, step, sentence, action)
        .note(note)
        .cautions(if amplifier { vec![cautions::amplifier_load()] } else { Vec::new() })
        .drawing(jig(bench, kind, label.as_slice()))
        .progress(tries, tries + 1, Some(seconds))
        .choices(skips())
        .notices(fault.into_iter().collect())
}

fn words(step: &str) -> (&'static str, &'static str, DrawingKind) {
    match step {
        "same_node" => (
            "Both inputs on one clip.",
            "Move the driver's input lead to the source side of the resistor. The driver may stay where it is.",
            DrawingKind::SameNode,
        ),
        "known_resistor" => (
            "Clip the known resistor in the driver's place.",
            "Both inputs back where they were: one on the source, one across the resistor that stands for the driver.",
            DrawingKind::KnownResistor,
        ),
        "open" => (
            "Lift the driver off: the inputs alone.",
            "Both inputs where they were, the driver's two clips in the air and apart.",
            DrawingKind::OpenLeads,
        ),
        _ => (
            "Zero the leads: join the driver's two clips.",
            "Clip to clip, without the driver. The series resistor stays in circuit.",
            DrawingKind::ShortedLeads,
        ),
    }
}

/// What is wrong with a calibration take, told from its levels alone.
fn fault(bench: &ImpedanceBench, past: &Past, step: &str, take: &TakeNote) -> Option<Notice> {
    let (Some(source), Some(driver)) = (channel(take, bench.source_channel), channel(take, bench.driver_channel))
    else {
        return Some(Notice::new(Code::TooFewChannels, &[("channels", take.channels.len() as f64)]));
    };
    if is_clipped(bench, take) {
        return Some(Notice::new(Code::Clipped, &[("peak_dbfs", source.peak_dbfs.max(driver.peak_dbfs))]));
    }
    if snr(source) < 10.0 {
        return Some(no_signal(take, source));
    }
    if let Some(lost) = gap(take) {
        return Some(lost.clone());
    }
    let ratio_db = ratio_db(source, driver);
    match step {
        "open" => {
            let difference_db = ratio_db - gain_db(bench, past).unwrap_or(0.0);
            (difference_db < OPEN_DB).then(|| Notice::new(Code::NotOpen, &[("difference_db", difference_db)]))
        }
        "same_node" => {
            (ratio_db.abs() > ONE_CLIP_DB).then(|| Notice::new(Code::NotOneClip, &[("difference_db", ratio_db)]))
        }
        "short" => (ratio_db > SHORTED_DB).then(|| Notice::new(Code::NotShorted, &[("difference_db", ratio_db)])),
        _ => wrong_known(bench, take.resistor_ohm?, ratio_db, gain_db(bench, past)),
    }
}

/// The signal is not there: a buffer was lost on the way, or something else is heard, or nothing.
fn no_signal(take: &TakeNote, source: &ChannelNote) -> Notice {
    if let Some(lost) = gap(take) {
        return lost.clone();
    }
    if source.peak_dbfs > HEARD_DBFS {
        return Notice::new(Code::Noise, &[("snr_db", snr(source))]);
    }
    Notice::new(Code::Silent, &[("peak_dbfs", source.peak_dbfs)])
}

fn ratio_db(source: &ChannelNote, driver: &ChannelNote) -> f64 {
    driver.signal_dbfs.unwrap_or(driver.rms_dbfs) - source.signal_dbfs.unwrap_or(source.rms_dbfs)
}

/// Gain of the driver's input over the source's, as both saw one clip.
fn gain_db(bench: &ImpedanceBench, past: &Past) -> Option<f64> {
    let (_, take) = good_take(bench, past, "same_node")?;
    Some(ratio_db(channel(take, bench.source_channel)?, channel(take, bench.driver_channel)?))
}

/// The resistor that the two levels speak of, against the typed one.
fn wrong_known(bench: &ImpedanceBench, typed_ohm: f64, ratio_db: f64, gain_db: Option<f64>) -> Option<Notice> {
    let ratio = 10f64.powf((ratio_db - gain_db.unwrap_or(0.0)) / 20.0);
    let expected = typed_ohm / (typed_ohm + bench.series_resistor_ohm);
    let within = if gain_db.is_some() { KNOWN_WITHIN } else { UNMATCHED_WITHIN };
    if (ratio / expected - 1.0).abs() <= within {
        return None;
    }
    let found_ohm = if ratio < 1.0 { bench.series_resistor_ohm * ratio / (1.0 - ratio) } else { f64::MAX };
    let found_ohm = found_ohm.min(1e6);
    Some(Notice::new(Code::WrongResistor, &[("found_ohm", found_ohm), ("expected_ohm", typed_ohm)]))
}

/// The offer of 'the inputs alone'. What it shows is a few thousandths, which the gain of the two inputs must not hide.
pub(super) fn inputs_alone(bench: &ImpedanceBench, past: &Past) -> Option<Choice> {
    let suits = good_take(bench, past, "same_node").is_some() && good_take(bench, past, "open").is_none();
    suits.then(|| choice("open", "The inputs alone", "Takes the load of the inputs out of the budget."))
}

/// After calibrations the leads go back to the driver.
fn reconnect(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    let touched = STEPS.iter().filter_map(|s| past.takes(s).last().map(|(at, _)| *at)).max()?;
    if past.confirmed_at("reconnect").is_some_and(|at| at > touched) {
        return None;
    }
    let action = Action::Confirm { button: "Connected".to_owned() };
    Some(
        Step::new(Stage::Connect, "reconnect", "Connect the driver again.", action)
            .note("One input on the source side of the resistor, one on the driver, as at the beginning.")
            .drawing(jig(bench, DrawingKind::TwoChannelDivider, &[]))
            .choices(inputs_alone(bench, past).into_iter().collect()),
    )
}
