//! The analysis of the readings, and what could be done next.

use super::super::bench::MeterBench;
use super::super::build::{choice, ohm_words};
use super::super::closing::{self, Ending, Material};
use super::super::past::Past;
use super::super::step::{Choice, Happening, ReadingNote, Step};
use super::connect::r_e_ohm;
use super::tones::readings;
use crate::math::order::by_name;

/// Station: the readings as they stand were not read yet.
pub(super) fn analyse(bench: &MeterBench, past: &Past) -> Option<Step> {
    last_reading(past).is_none().then(|| closing::analysing(material(bench, past)))
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &MeterBench, past: &Past) -> Step {
    let count = readings(bench, past).len();
    closing::close(past, last_reading(past), material(bench, past), |_| Ending {
        next: suggestions(bench),
        note: format!("{count} tones through {}, read by meter.", ohm_words(bench.series_resistor_ohm)),
        notices: Vec::new(),
    })
}

/// The volts themselves stand in the setup.
fn material(bench: &MeterBench, past: &Past) -> Material {
    let fields = by_name(r_e_ohm(past).map(|ohm| ("r_e_ohm", ohm)));
    Material { takes: Vec::new(), fields, what: "volts", count: readings(bench, past).len() }
}

/// The last analysis, where nothing that it stands on has changed since.
fn last_reading<'a>(past: &Past<'a>) -> Option<&'a ReadingNote> {
    past.events().iter().rev().copied().find_map(|e| match e {
        Happening::Read { reading } => Some(Some(reading)),
        Happening::Confirmed { .. } => Some(None),
        _ => None,
    })?
}

fn suggestions(bench: &MeterBench) -> Vec<Choice> {
    let mut next = vec![choice("look_through", "Look through the readings", "Correct one, leave one out, or add one.")];
    if !bench.by_hand {
        next.push(choice("another_tone", "Another tone", "The one that would tell most."));
        next.push(choice("again:level", "Look for the level again", "The tones are then read anew."));
    }
    next
}
