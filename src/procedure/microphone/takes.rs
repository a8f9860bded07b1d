//! The takes: the room alone, the driver without the resistor, with it, with it louder and shaped, and without it again.

use super::super::bench::MicrophoneBench;
use super::super::build::choice;
use super::super::closing::analysing_for;
use super::super::impedance::shared;
use super::super::past::{take_use, Past};
use super::super::step::{Action, Choice, DrawingKind, ReadingNote, Stage, Step, TakeNote, TakeUse};
use super::super::{cautions, defaults};
use super::connect::{finds_output, output_ohm, wiring};
use super::shaping::{off_db, reading_of, shaping, Shaping};
use super::{two_inputs, HIGH_HZ, TAKES};
use crate::signal::notice::{Code, Notice};
use crate::signal::stimulus::{Shape, Stimulus};
use crate::signal::wording::three_digits;
use std::collections::BTreeMap;

/// Silence that is listened to.
const SILENCE_S: u32 = 6;
/// Loudest peak of any take; a shaped signal may grow by a decibel on the way.
const LOUDEST_DBFS: f64 = -2.0;
/// Least R_e for which there is room to play louder, in Ω: drivers of 4 Ω have about 3.
const LEAST_R_E_OHM: f64 = 3.0;
/// A cut-off top lowers the level of all takes by so much.
const LOWER_DB: f64 = 6.0;
/// Takes belong together where they were played at the levels wanted.
const SAME_LEVEL_DB: f64 = 0.01;
/// Takes in a row that cannot be used before the road ends with the reason.
const TRIES: usize = 3;

/// A take and its place in the past.
pub(super) type Placed<'a> = (usize, &'a TakeNote);

/// Station: the takes in their order, the forecast and the rough reading between them.
pub(super) fn takes(bench: &MicrophoneBench, past: &Past) -> Option<Step> {
    let Some(silence) = good(bench, past, "silence", 0) else { return Some(wanted(bench, past, "silence", 0)) };
    let Some(without) = good(bench, past, "without", 0) else { return Some(wanted(bench, past, "without", 1)) };
    if let Some(step) = forecast(past, silence, without) {
        return Some(step);
    }
    if finds_output(past) && good(bench, past, "loaded", without.0).is_none() {
        return Some(wanted(bench, past, "loaded", 2));
    }
    let Some(with) = good(bench, past, "with", without.0) else { return Some(wanted(bench, past, "with", 2)) };
    if let Some(step) = rough(bench, past, without, with) {
        return Some(step);
    }
    let Some(shaped) = good(bench, past, "with_shaped", with.0) else {
        return Some(wanted(bench, past, "with_shaped", 3));
    };
    match good(bench, past, "without_again", shaped.0) {
        Some(_) => None,
        None => Some(wanted(bench, past, "without_again", 4)),
    }
}

/// Takes that the reading is made of, in the order in which they were taken.
pub(super) fn counting<'a>(bench: &MicrophoneBench, past: &Past<'a>) -> Vec<Placed<'a>> {
    let found: Vec<Placed> = TAKES[1..]
        .iter()
        .filter(|s| **s != "loaded" || finds_output(past))
        .filter_map(|s| good(bench, past, s, 0))
        .collect();
    found
}

/// The last take of a step, where it is good, at the level that is wanted now, and later than the place `after`.
fn good<'a>(bench: &MicrophoneBench, past: &Past<'a>, step: &str, after: usize) -> Option<Placed<'a>> {
    let (at, take) = past.takes(step).last().copied()?;
    let fits = step == "silence"
        || take.stimulus_peak_dbfs.is_some_and(|p| (p - level_of(bench, past, step)).abs() < SAME_LEVEL_DB);
    (fits && at >= after && fault(bench, step, take).is_none()).then_some((at, take))
}

fn fault(bench: &MicrophoneBench, step: &str, take: &TakeNote) -> Option<Notice> {
    let Some(channel) = shared::channel(take, bench.channel) else {
        return Some(Notice::new(Code::TooFewChannels, &[("channels", take.channels.len() as f64)]));
    };
    if shared::is_clipped(&two_inputs(bench), take) {
        return Some(Notice::new(Code::Clipped, &[("peak_dbfs", channel.peak_dbfs)]));
    }
    let fatal = [Code::Clipped, Code::Silent, Code::DeadChannel, Code::Gap];
    // Quiet is what the first one wants.
    take.notices.iter().find(|n| fatal.contains(&n.code) && (step != "silence" || n.code != Code::Silent)).cloned()
}

/// Level of the takes without the resistor: as found, but with room above it for the louder one, and lower for every top
/// that was cut off.
pub(super) fn level_dbfs(bench: &MicrophoneBench, past: &Past) -> f64 {
    let clipped = past.takes_in(&TAKES[1..]).iter().filter(|(_, t)| shared::is_clipped(&two_inputs(bench), t)).count();
    let room_db = 20.0 * (1.0 + bench.series_resistor_ohm / LEAST_R_E_OHM).log10();
    shared::found(&two_inputs(bench), past).0.min(LOUDEST_DBFS - room_db) - LOWER_DB * clipped as f64
}

/// Peak of what a step plays.
fn level_of(bench: &MicrophoneBench, past: &Past, step: &str) -> f64 {
    let level = level_dbfs(bench, past);
    match step {
        "with_shaped" => shaped(bench, past).map_or(level, |s| level + s.louder_db),
        _ => level,
    }
}

/// How the louder take is played, once the rough reading is there.
pub(super) fn shaped(bench: &MicrophoneBench, past: &Past) -> Option<Shaping> {
    let (without, with) = (past.takes("without").last().copied()?, past.takes("with").last().copied()?);
    let rough = reading_of(past, &rough_uses(past, without, with))?;
    let room_db = LOUDEST_DBFS - level_dbfs(bench, past);
    let behind_ohm = output_ohm(past).unwrap_or(0.0);
    let mut found = shaping(rough, behind_ohm, bench.series_resistor_ohm, room_db)?;
    found.louder_db = (found.louder_db - off_db(past, with.0).0).clamp(0.0, room_db.max(0.0));
    Some(found)
}

fn as_role(past: &Past, (at, take): Placed, role: &str) -> TakeUse {
    TakeUse { role: role.to_owned(), ..take_use(past, at, take) }
}

/// What this room and level will give, before the resistor is looked for.
fn forecast(past: &Past, silence: Placed, without: Placed) -> Option<Step> {
    let uses = forecast_uses(past, silence, without);
    let Some(reading) = reading_of(past, &uses) else {
        let fields = BTreeMap::new();
        return Some(analysing_for("forecast", "Reckoning what this room and level will give.", uses, fields));
    };
    let notice = reading.refusal.clone().filter(|_| past.times_chosen("forecast", "go_on") == 0)?;
    let next = vec![
        choice("again:silence", "Listen to the room again", "After something was switched off."),
        choice("again:level", "Look for the level again", "With the microphone closer, or its gain lower."),
        choice("go_on", "Go on all the same", "The reading will most likely be refused."),
    ];
    Some(Step::refused(Stage::Measure, "forecast_refused", notice, next))
}

fn forecast_uses(past: &Past, silence: Placed, without: Placed) -> Vec<TakeUse> {
    vec![as_role(past, silence, "silence"), as_role(past, without, "without")]
}

/// The forecast in words; none where nothing was reckoned.
fn forecast_words(past: &Past) -> Option<String> {
    let (silence, without) = (past.takes("silence").last().copied()?, past.takes("without").last().copied()?);
    let reading = reading_of(past, &forecast_uses(past, silence, without))?;
    let row = |hz: u32| {
        let value = |of: &str| reading.values.get(&format!("forecast_{of}_percent_{hz}_hz")).copied();
        // 95 %, as everywhere.
        let words = |x: f64| three_digits((200.0 * x).round() / 100.0);
        Some(format!("f_s ±{}\u{a0}% and Q_ts ±{}\u{a0}% at {hz}\u{a0}Hz", words(value("f_s")?), words(value("q_ts")?)))
    };
    let rows: Vec<String> = [25, 50, 100].into_iter().filter_map(row).collect();
    let all = match rows.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{}; {last}", others.join("; ")),
        None => return None,
    };
    Some(format!("Noise alone will leave a driver's {all}."))
}

/// The rough reading of the first take with the resistor, which the second one is shaped by.
fn rough(bench: &MicrophoneBench, past: &Past, without: Placed, with: Placed) -> Option<Step> {
    let uses = rough_uses(past, without, with);
    let Some(reading) = reading_of(past, &uses) else {
        let fields = output_ohm(past).map(|ohm| ("output_resistance_ohm".to_owned(), ohm)).into_iter().collect();
        return Some(analysing_for("rough", "A first look, to shape the next take.", uses, fields));
    };
    refused_rough(bench, reading).map(|notice| {
        let next = vec![
            choice("again:with", "Take it again", "After the remedy, with the resistor in its place."),
            choice("again:without", "All takes once more", "From the first one without the resistor on."),
            choice("again:connect", "Back to the wiring", ""),
        ];
        Step::refused(Stage::Measure, "rough_refused", notice, next)
    })
}

fn refused_rough(bench: &MicrophoneBench, reading: &ReadingNote) -> Option<Notice> {
    let none = || Notice::new(Code::ModelMisfit, &[]);
    match &reading.refusal {
        Some(notice) => Some(notice.clone()),
        None => shaping(reading, 0.0, bench.series_resistor_ohm, 0.0).is_none().then(none),
    }
}

/// The take without stands on both sides, as no later one is there yet.
fn rough_uses(past: &Past, without: Placed, with: Placed) -> Vec<TakeUse> {
    vec![as_role(past, without, "without"), as_role(past, with, "with"), as_role(past, without, "without")]
}

/// The take that comes next, or the reason why it cannot be had.
fn wanted(bench: &MicrophoneBench, past: &Past, id: &str, done: usize) -> Step {
    let faults: Vec<Notice> = past.takes(id).iter().rev().map_while(|(_, t)| fault(bench, id, t)).collect();
    if faults.len() >= TRIES {
        let again = choice(&format!("again:{id}"), "Take it again", "After the remedy.");
        let wiring = choice("again:connect", "Back to the wiring", "");
        return Step::refused(Stage::Measure, "takes_refused", faults[0].clone(), vec![again, wiring]);
    }
    play(bench, past, id, done, faults.into_iter().take(1).collect())
}

fn play(bench: &MicrophoneBench, past: &Past, id: &str, done: usize, faults: Vec<Notice>) -> Step {
    let said = words(bench, past, id);
    let stimulus = stimulus(bench, past, id);
    let tail_s = if id == "silence" { 0.0 } else { defaults::tail_s(bench.practice) };
    let seconds = defaults::seconds(&stimulus) + tail_s;
    let action = Action::Play {
        stimulus,
        role: if id == "without_again" { "without" } else { id }.to_owned(),
        tail_s,
        resistor_ohm: (id == "loaded").then_some(bench.series_resistor_ohm),
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.channel],
        by_itself: false,
        button: if id == "silence" { "Listen" } else { "Measure" }.to_owned(),
    };
    let mut notices = faults;
    notices.extend(shared::found(&two_inputs(bench), past).1);
    let of = 5;
    Step::new(Stage::Measure, id, &said.sentence, action)
        .note(&said.note)
        .cautions(if bench.practice || id == "silence" {
            Vec::new()
        } else {
            vec![cautions::hearing(), cautions::foam()]
        })
        .drawing(wiring(bench, said.kind))
        .progress(done, of, Some(seconds))
        .choices(side_choices(id))
        .notices(notices)
}

fn stimulus(bench: &MicrophoneBench, past: &Past, id: &str) -> Stimulus {
    let peak_dbfs = level_of(bench, past, id);
    match id {
        "silence" => Stimulus { shape: Shape::Silence, ..defaults::tone(bench.rate_hz, 100.0, -60.0, SILENCE_S) },
        _ => Stimulus {
            high_hz: HIGH_HZ,
            travel_shape: shaped(bench, past).filter(|_| id == "with_shaped").map(|s| s.travel_shape),
            ..defaults::marked(bench.rate_hz, peak_dbfs)
        },
    }
}

struct Said {
    sentence: String,
    note: String,
    kind: DrawingKind,
}

fn words(bench: &MicrophoneBench, past: &Past, id: &str) -> Said {
    let ohm = super::super::build::ohm_words(bench.series_resistor_ohm);
    let forecast = || forecast_words(past).unwrap_or_default();
    let said = |sentence: String, note: String, kind| Said { sentence, note, kind };
    match id {
        "silence" => said(
            "First the room alone. Nothing is played.".to_owned(),
            "From this the page reckons what can be read here, before time is spent. Keep still.".to_owned(),
            DrawingKind::CloseWithout,
        ),
        "loaded" => said(
            format!("Put {ohm} across the amplifier's output; the driver stays on it."),
            format!(
                "What is left for the driver tells the output's resistance. The resistor may get warm. {}",
                forecast()
            ),
            DrawingKind::CloseLoaded,
        ),
        "with" => said(
            format!("Now {ohm} in series with the driver."),
            format!("Nothing else may move: not the microphone, no knob. {}", forecast()),
            DrawingKind::CloseWith,
        ),
        "with_shaped" => said(
            "Once more with the resistor, so that the cone travels as far as without it.".to_owned(),
            louder_words(bench, past),
            DrawingKind::CloseWith,
        ),
        "without_again" => said(
            "Take the resistor out again.".to_owned(),
            "As at the beginning. It shows whether anything moved meanwhile: gain, volume, the microphone.".to_owned(),
            DrawingKind::CloseWithout,
        ),
        _ => said(
            "Without the resistor. Leave driver and microphone alone.".to_owned(),
            "Keep still, and keep doors and fans still, until the signal ends.".to_owned(),
            DrawingKind::CloseWithout,
        ),
    }
}

fn louder_words(bench: &MicrophoneBench, past: &Past) -> String {
    let louder_db = shaped(bench, past).map_or(0.0, |s| s.louder_db);
    let again = match past.takes("with").last().map_or(0, |(at, _)| off_db(past, *at).1) {
        0 => "",
        _ => " The gain follows the level a little: this time at the very level of the take without the resistor.",
    };
    format!(
        "The amplifier gives {}\u{a0}dB more, less around the resonance; the driver gets no more than before.{again}",
        three_digits(louder_db)
    )
}

fn side_choices(id: &str) -> Vec<Choice> {
    let mut choices = Vec::new();
    if id == "with" || id == "loaded" {
        choices.push(choice("again:silence", "Listen to the room again", "After something was switched off."));
    }
    choices.push(choice("again:level", "Look for the level again", "After a knob was turned: all takes begin anew."));
    choices
}
