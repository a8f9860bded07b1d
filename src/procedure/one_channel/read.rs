//! The analysis of the four takes, and what could be done next.

use super::super::bench::OneChannelBench;
use super::super::build::{choice, ohm_words};
use super::super::closing::{self, Ending, Material};
use super::super::impedance::shared;
use super::super::past::{take_use, Past};
use super::super::step::{Choice, ReadingNote, Step};
use super::known_ohm;
use super::takes::{counting, level_dbfs, output_ohm};
use crate::signal::notice::Code;
use crate::signal::wording::three_digits;

/// Station: the takes were not read yet.
pub(super) fn analyse(bench: &OneChannelBench, past: &Past) -> Option<Step> {
    closing::analyse(past, material(bench, past))
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &OneChannelBench, past: &Past) -> Step {
    closing::read(past, material(bench, past), |reading| Ending {
        next: suggestions(reading),
        note: circumstances(bench, past),
        notices: Vec::new(),
    })
}

fn material(bench: &OneChannelBench, past: &Past) -> Material {
    let takes = counting(bench, past).into_iter().map(|(at, take)| take_use(past, at, take)).collect();
    let fields = output_ohm(past).map(|ohm| ("output_resistance_ohm".to_owned(), ohm)).into_iter().collect();
    Material { fields, ..Material::of(takes) }
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
    let has = |wanted: &[Code]| reading.speaks_of(wanted);
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
