//! The analysis of the readings, and what could be done next.

use super::super::bench::MeterBench;
use super::super::build::{choice, ohm_words};
use super::super::past::Past;
use super::super::step::{Action, Choice, Happening, ReadingNote, Stage, Step};
use super::connect::r_e_ohm;
use super::tones::readings;
use crate::math::order::by_name;
use crate::signal::reading::Outcome;
use std::collections::BTreeMap;

/// Station: the readings as they stand were not read yet.
pub(super) fn analyse(bench: &MeterBench, past: &Past) -> Option<Step> {
    if last_reading(past).is_some() {
        return None;
    }
    let fields = by_name(r_e_ohm(past).map(|ohm| ("r_e_ohm", ohm)));
    let action = Action::Analyse { takes: Vec::new(), fields };
    let count = readings(bench, past).len();
    Some(
        Step::new(Stage::Read, "analyse", "Reading the volts.", action)
            .note("Nothing sounds now.")
            .progress(0, count, None),
    )
}

/// The last analysis, where nothing that it stands on has changed since.
fn last_reading<'a>(past: &Past<'a>) -> Option<&'a ReadingNote> {
    past.events().iter().rev().copied().find_map(|e| match e {
        Happening::Read { reading } => Some(Some(reading)),
        Happening::Confirmed { .. } => Some(None),
        _ => None,
    })?
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &MeterBench, past: &Past) -> Step {
    let Some(reading) = last_reading(past) else {
        // Not reached: `analyse` stands before this on the road. A step all the same, never a panic.
        let action = Action::Analyse { takes: Vec::new(), fields: BTreeMap::new() };
        return Step::new(Stage::Read, "analyse", "Reading the volts.", action);
    };
    if past.finished() {
        return Step::new(Stage::Read, "finished", "Put on the card.", Action::Done { next: Vec::new() })
            .note("The readings are kept.");
    }
    let next = suggestions(bench);
    if let Some(notice) = &reading.refusal {
        return Step::refused(Stage::Read, "read_refused", notice.clone(), next);
    }
    let (id, sentence) = match reading.outcome {
        Outcome::Doubtful => ("read_doubtful", "A reading, with a doubt."),
        _ => ("read", "The reading."),
    };
    let count = readings(bench, past).len();
    let note = format!("{count} tones through {}, read by meter.", ohm_words(bench.series_resistor_ohm));
    Step::new(Stage::Read, id, sentence, Action::Done { next }).note(&note)
}

fn suggestions(bench: &MeterBench) -> Vec<Choice> {
    let mut next = vec![choice("look_through", "Look through the readings", "Correct one, leave one out, or add one.")];
    if !bench.by_hand {
        next.push(choice("another_tone", "Another tone", "The one that would tell most."));
        next.push(choice("again:level", "Look for the level again", "The tones are then read anew."));
    }
    next
}
