//! The analysis of the takes, and what could be done next.

use super::super::bench::MicrophoneBench;
use super::super::build::{choice, ohm_words};
use super::super::closing::{self, Ending, Material};
use super::super::impedance::shared;
use super::super::past::{take_use, Past};
use super::super::step::{Choice, ReadingNote, Step};
use super::connect::output_ohm;
use super::takes::{counting, level_dbfs, shaped};
use crate::signal::notice::Code;

/// Station: the takes were not read yet.
pub(super) fn analyse(bench: &MicrophoneBench, past: &Past) -> Option<Step> {
    closing::analyse(past, material(bench, past))
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &MicrophoneBench, past: &Past) -> Step {
    closing::read(past, material(bench, past), |reading| Ending {
        next: suggestions(reading),
        note: circumstances(bench, past),
        notices: Vec::new(),
    })
}

fn material(bench: &MicrophoneBench, past: &Past) -> Material {
    let takes = counting(bench, past).into_iter().map(|(at, take)| take_use(past, at, take)).collect();
    let played = shaped(bench, past);
    let shape = played.map_or([None; 3], |s| s.travel_shape.map(Some));
    let fields = [
        ("output_resistance_ohm", output_ohm(past)),
        ("r_e_ohm", shared::meter_r_e_ohm(past)),
        ("shaped_louder_db", played.map(|s| s.louder_db)),
        ("shaped_at_hz", shape[0]),
        ("shaped_q_without", shape[1]),
        ("shaped_q_with", shape[2]),
    ];
    let known = fields.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?))).collect();
    Material { fields: known, ..Material::of(takes) }
}

/// Level, attitude and resistor: a resonance without them cannot be compared.
fn circumstances(bench: &MicrophoneBench, past: &Past) -> String {
    format!(
        "Heard by the microphone without and with {}, at {}, {}.",
        ohm_words(bench.series_resistor_ohm),
        shared::level_words(past, level_dbfs(bench, past)),
        shared::attitude_words(past)
    )
}

fn suggestions(reading: &ReadingNote) -> Vec<Choice> {
    let has = |wanted: &[Code]| reading.speaks_of(wanted);
    let mut next = Vec::new();
    if has(&[Code::Clipped, Code::Silent, Code::TooQuiet, Code::Noise]) {
        next.push(choice("again:level", "Look for the level again", "Closer to the cone, or in more quiet."));
    }
    if has(&[Code::WrongResistor, Code::Contradiction, Code::DeadChannel]) {
        next.push(choice("again:connect", "Back to the wiring", "The takes speak of something in the wrong place."));
    }
    next.push(choice("again:without", "All takes once more", "From the first one without the resistor on."));
    next
}
