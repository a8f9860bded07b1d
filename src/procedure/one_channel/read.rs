//! The analysis of the four takes, and what could be done next.

use super::super::bench::OneChannelBench;
use super::super::build::{choice, ohm_words};
use super::super::impedance::shared;
use super::super::past::{take_use, Past};
use super::super::step::{Action, Choice, ReadingNote, Stage, Step, TakeUse};
use super::known_ohm;
use super::takes::{counting, level_dbfs, output_ohm};
use crate::signal::notice::Code;
use crate::signal::reading::Outcome;
use crate::signal::wording::three_digits;

/// Station: the takes were not read yet.
pub(super) fn analyse(bench: &OneChannelBench, past: &Past) -> Option<Step> {
    let takes = uses(bench, past);
    if past.reading_of(&takes).is_some() {
        return None;
    }
    Some(reading_step(past, takes))
}

fn uses(bench: &OneChannelBench, past: &Past) -> Vec<TakeUse> {
    counting(bench, past).into_iter().map(|(at, take)| take_use(past, at, take)).collect()
}

fn reading_step(past: &Past, takes: Vec<TakeUse>) -> Step {
    let count = takes.len();
    let fields = output_ohm(past).map(|ohm| ("output_resistance_ohm".to_owned(), ohm)).into_iter().collect();
    Step::new(Stage::Read, "analyse", "Reading the takes.", Action::Analyse { takes, fields })
        .note("Nothing sounds now.")
        .progress(0, count, None)
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &OneChannelBench, past: &Past) -> Step {
    let takes = uses(bench, past);
    let Some(reading) = past.reading_of(&takes) else {
        // Not reached: `analyse` stands before this on the road. A step all the same, never a panic.
        return reading_step(past, takes);
    };
    if past.finished() {
        return Step::new(Stage::Read, "finished", "Put on the card.", Action::Done { next: Vec::new() })
            .note("The takes and the reading are kept.");
    }
    let next = suggestions(reading);
    if let Some(notice) = &reading.refusal {
        return Step::refused(Stage::Read, "read_refused", notice.clone(), next);
    }
    let (id, sentence) = match reading.outcome {
        Outcome::Doubtful => ("read_doubtful", "A reading, with a doubt."),
        _ => ("read", "The reading."),
    };
    Step::new(Stage::Read, id, sentence, Action::Done { next }).note(&circumstances(bench, past))
}

/// Level, attitude and resistors: a resonance without them cannot be compared.
fn circumstances(bench: &OneChannelBench, past: &Past) -> String {
    format!(
        "Taken with one input through {} against {}, at a peak of {}\u{a0}dB below full scale, {}.",
        ohm_words(bench.series_resistor_ohm),
        known_ohm(past).map_or_else(String::new, ohm_words),
        three_digits(-level_dbfs(bench, past)),
        shared::attitude_words(past)
    )
}

fn suggestions(reading: &ReadingNote) -> Vec<Choice> {
    let mut codes: Vec<Code> = reading.warnings.clone();
    codes.extend(reading.refusal.iter().map(|n| n.code));
    let has = |wanted: &[Code]| codes.iter().any(|c| wanted.contains(c));
    let mut next = Vec::new();
    if has(&[Code::Clipped, Code::Silent, Code::TooQuiet]) {
        next.push(choice("again:level", "Look for the level again", "The level did not suit."));
    }
    if has(&[Code::OpenCircuit, Code::ShortCircuit, Code::DeadChannel, Code::WrongResistor, Code::Contradiction]) {
        next.push(choice("again:connect", "Back to the wiring", "The takes speak of a lead in the wrong place."));
    }
    if reading.refusal.is_none() {
        next.push(choice("again:driver", "The driver once more", "Driver and resistor again; the first takes stay."));
    }
    next.push(choice("again:resistor", "All takes once more", "From the known resistor on."));
    next
}
