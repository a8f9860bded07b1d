//! Listening: what the next knock should be like, when there are enough, and which takes can be used.

use super::super::bench::{KnockBench, Sensor};
use super::super::build::{choice, drawing, ohm_words};
use super::super::past::Past;
use super::super::step::{Action, Choice, Drawing, DrawingKind, KnockNote, Stage, Step, TakeNote};
use super::connect::{sensor_drawing, sensor_labels};
use super::rounds::{box_of, in_box_drawing, load_of, number, Kind, Round};
use crate::signal::notice::{Code, Notice};
use crate::signal::wording::three_digits;

/// Knocks wanted.
const WANTED_COIL: u32 = 5;
/// A microphone hears the room as well.
const WANTED_MICROPHONE: u32 = 6;
/// Knocks without which nothing is read: scatter of fewer says nothing.
pub(in crate::procedure) const LEAST: usize = 3;
/// Longest take: a knock every three seconds, with room for ten that do not count.
const MAX_S: f64 = 60.0;
/// The last ring dies away: 3 s are 30 cycles at 10 Hz.
pub(in crate::procedure) const DIE_AWAY_S: f64 = 3.0;
/// A knock above this is cut off, or the next one will be.
pub(in crate::procedure) const TOO_LOUD_DBFS: f64 = -1.0;
/// A knock below this drowns in what inputs add of their own. Common practice, no source.
pub(in crate::procedure) const TOO_QUIET_DBFS: f64 = -45.0;
/// Takes without enough knocks before the round ends with the reason.
pub(in crate::procedure) const TRIES: usize = 3;

/// The knock can be used.
fn counts(knock: &KnockNote) -> bool {
    knock.set_aside.is_none() && (TOO_QUIET_DBFS..=TOO_LOUD_DBFS).contains(&knock.peak_dbfs)
}

/// Enough knocks of the take can be used.
pub(super) fn is_good(_: &KnockBench, past: &Past, at: usize, take: &TakeNote) -> bool {
    usable(past, at, take) >= LEAST
}

fn usable(past: &Past, at: usize, take: &TakeNote) -> usize {
    let aside = past.knocks_set_aside(at, &take.id);
    let numbered = take.knocks.iter().zip(1u32..);
    numbered.filter(|(knock, number)| counts(knock) && !aside.contains(number)).count()
}

/// The listening step of a round.
pub(super) fn listen(bench: &KnockBench, past: &Past, round: &Round) -> Step {
    let id = round.kind.listen_step();
    let failed: Vec<_> = past.takes(id).into_iter().filter(|(at, _)| (round.from..round.to).contains(at)).collect();
    let fault = failed.last().map(|(at, take)| fault(past, *at, take));
    if let Some(notice) = fault.clone().filter(|_| failed.len() >= TRIES) {
        return refused(round, notice);
    }
    let heard = past.heard_now(id);
    let good = heard.iter().filter(|k| counts(k)).count();
    let wanted = wanted_knocks(bench);
    let action = Action::Listen {
        channel: bench.channel,
        second_channel: None,
        wanted_knocks: wanted,
        max_s: MAX_S,
        end_after_s: (good >= wanted as usize).then_some(DIE_AWAY_S),
        load_ohm: load_of(past, round),
        added_mass_kg: number(past, round, "weight", "added_mass_kg").filter(|_| round.kind == Kind::Weight),
        box_volume_m3: box_of(past, round),
        button: "Listen".to_owned(),
    };
    let (sentence, note) = words(bench, &heard, good, wanted as usize);
    let mut notices: Vec<Notice> = heard.last().and_then(|k| k.set_aside.clone()).into_iter().collect();
    if heard.is_empty() {
        notices.extend(fault);
    }
    Step::new(Stage::Measure, id, sentence, action)
        .note(note)
        .drawing(round_drawing(bench, past, round))
        .progress(good, wanted as usize, None)
        .choices(side_actions(round))
        .notices(notices)
}

fn side_actions(round: &Round) -> Vec<Choice> {
    let mut choices = vec![choice("again:connect", "Back to the wiring", "All rounds begin anew.")];
    if round.from > 0 {
        choices.insert(0, choice("give_up", "Leave this round out", "Back to the reading."));
    }
    choices
}

fn refused(round: &Round, notice: Notice) -> Step {
    let again = format!("again:{}", round.kind.listen_step());
    let mut choices = vec![choice(&again, "Listen again", "After the remedy.")];
    choices.extend(side_actions(round));
    Step::refused(Stage::Measure, "listen_refused", notice, choices)
}

fn wanted_knocks(bench: &KnockBench) -> u32 {
    match bench.sensor {
        Sensor::Coil => WANTED_COIL,
        Sensor::Microphone => WANTED_MICROPHONE,
    }
}

/// The sentence after what was heard last.
fn words(bench: &KnockBench, heard: &[&KnockNote], good: usize, wanted: usize) -> (&'static str, &'static str) {
    let by_microphone = bench.sensor == Sensor::Microphone;
    if good >= wanted {
        return ("Enough. Let it die away.", "The take ends by itself.");
    }
    match heard.last() {
        None if by_microphone => {
            ("Press the cone in a little and let go.", "Wait for it to die away. One every two or three seconds.")
        }
        None => {
            ("Knock softly, near the edge of the cone.", "Wait for it to die away. One every two or three seconds.")
        }
        Some(knock) if knock.peak_dbfs > TOO_LOUD_DBFS => (
            "Softer. The tops of that one were cut off.",
            "Louder is not better. If it stays too loud, turn the input down.",
        ),
        Some(knock) if knock.peak_dbfs < TOO_QUIET_DBFS && by_microphone => {
            ("Closer. That one was hardly heard.", "Bring the microphone nearer, or turn the input up.")
        }
        Some(knock) if knock.peak_dbfs < TOO_QUIET_DBFS => {
            ("A little firmer. That one was hardly heard.", "Or turn the input gain up.")
        }
        Some(knock) if knock.set_aside.is_some() => {
            ("Once more. That one does not count.", "Keep quiet, and let each knock die away before the next.")
        }
        Some(_) if by_microphone => {
            ("Good. Press and let go again.", "Wait for it to die away. One every two or three seconds.")
        }
        Some(_) => ("Knock again, softly, near the edge.", "Wait for it to die away. One every two or three seconds."),
    }
}

/// Why a take did not count.
fn fault(past: &Past, at: usize, take: &TakeNote) -> Notice {
    let loudest = take.knocks.iter().map(|k| k.peak_dbfs).fold(f64::NEG_INFINITY, f64::max);
    let loud = take.knocks.iter().filter(|k| k.peak_dbfs > TOO_LOUD_DBFS).count();
    let quiet = take.knocks.iter().filter(|k| k.peak_dbfs < TOO_QUIET_DBFS).count();
    if take.knocks.is_empty() {
        let health = take.notices.iter().find(|n| matches!(n.code, Code::Silent | Code::DeadChannel)).cloned();
        return health.unwrap_or_else(|| Notice::new(Code::NoKnock, &[]));
    }
    if 2 * loud > take.knocks.len() {
        return Notice::new(Code::Clipped, &[("peak_dbfs", loudest)]);
    }
    if 2 * quiet > take.knocks.len() {
        return Notice::new(Code::TooQuiet, &[("peak_dbfs", loudest)]);
    }
    Notice::new(Code::TooFewKnocks, &[("knocks", usable(past, at, take) as f64), ("wanted", LEAST as f64)])
}

fn round_drawing(bench: &KnockBench, past: &Past, round: &Round) -> Drawing {
    let mut labels = sensor_labels(bench);
    match round.kind {
        Kind::Open => sensor_drawing(bench),
        Kind::Load => {
            labels.extend(number(past, round, "load", "load_ohm").map(|ohm| ("load", ohm_words(ohm))));
            drawing(DrawingKind::LoadResistor, &labels)
        }
        Kind::Box | Kind::BoxLoad => in_box_drawing(bench, box_of(past, round).unwrap_or(0.0), load_of(past, round)),
        Kind::Weight => {
            let grams = |kg: f64| ("weight", format!("{}\u{a0}g", three_digits(1000.0 * kg)));
            labels.extend(number(past, round, "weight", "added_mass_kg").map(grams));
            drawing(DrawingKind::WeightOnCone, &labels)
        }
    }
}
