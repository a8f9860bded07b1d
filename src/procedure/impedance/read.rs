//! The analysis of the takes, and what could be done next.

use super::super::bench::{ImpedanceBench, Output};
use super::super::build::{choice, ohm_words};
use super::super::closing::{self, Ending, Material};
use super::super::past::{take_use, Past};
use super::super::step::{Choice, ReadingNote, Step, TakeUse};
use super::calibrate::{self, good_take};
use super::connect::{attitude_words, full_scale_v, meter_r_e_ohm};
use super::level::found;
use super::mounted;
use super::takes::good_takes;
use crate::signal::notice::Code;
use crate::signal::wording::three_digits;
use std::collections::BTreeMap;

/// Station: the takes were not read yet.
pub(super) fn analyse(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    closing::analyse(past, material(bench, past))
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &ImpedanceBench, past: &Past) -> Step {
    closing::read(past, material(bench, past), |reading| Ending {
        next: suggestions(bench, past, reading),
        note: circumstances(bench, past),
        notices: Vec::new(),
    })
}

fn material(bench: &ImpedanceBench, past: &Past) -> Material {
    Material { fields: fields(past), ..Material::of(uses(bench, past)) }
}

/// Every take that the analysis gets.
fn uses(bench: &ImpedanceBench, past: &Past) -> Vec<TakeUse> {
    let calibrations = calibrate::STEPS.iter().filter_map(|step| good_take(bench, past, step));
    let all = calibrations.chain(good_takes(bench, past)).chain(mounted::good_takes(bench, past));
    all.map(|(at, take)| take_use(past, at, take)).collect()
}

fn fields(past: &Past) -> BTreeMap<String, f64> {
    let meter = meter_r_e_ohm(past).map(|ohm| ("r_e_ohm", ohm));
    mounted::fields(past).into_iter().chain(meter).map(|(name, value)| (name.to_owned(), value)).collect()
}

/// The level in volts, where a meter read them.
pub(super) fn level_words(past: &Past, level_dbfs: f64) -> String {
    match full_scale_v(past) {
        Some(full_v) => {
            let volts = full_v * 10f64.powf(level_dbfs / 20.0);
            format!("about {}\u{a0}V from the amplifier", three_digits(volts))
        }
        None => format!("a peak of {}\u{a0}dB below full scale", three_digits(-level_dbfs)),
    }
}

/// Level, attitude and resistor: a resonance without them cannot be compared.
fn circumstances(bench: &ImpedanceBench, past: &Past) -> String {
    let level = level_words(past, found(bench, past).0);
    let resistor = ohm_words(bench.series_resistor_ohm);
    let scale = match (good_take(bench, past, "known_resistor"), meter_r_e_ohm(past)) {
        (Some(_), _) | (_, Some(_)) => String::new(),
        _ => {
            format!(" All ohms rest on the {resistor} that were typed: no other resistor or meter has confirmed them.")
        }
    };
    format!("Taken through {resistor}, at {level}, {}.{scale}", attitude_words(past))
}

fn suggestions(bench: &ImpedanceBench, past: &Past, reading: &ReadingNote) -> Vec<Choice> {
    let has = |wanted: &[Code]| reading.speaks_of(wanted);
    let mut next = Vec::new();
    if has(&[Code::Clipped, Code::Silent, Code::TooQuiet]) {
        next.push(choice("again:level", "Look for the level again", "The level did not suit."));
    }
    if has(&[Code::SwappedChannels, Code::SameChannels, Code::OpenCircuit, Code::ShortCircuit, Code::DeadChannel]) {
        next.push(choice("again:connect", "Back to the wiring", "The takes speak of a lead in the wrong place."));
    }
    if has(&[Code::Contradiction, Code::GainRiding, Code::Gap]) || reading.refusal.is_some() {
        next.push(choice("again:driver", "Take the driver again", "The takes so far are kept, and not read."));
    }
    next.push(choice(
        "another_take",
        "Another take",
        "Averaged with the others: noise falls, and it shows what repeats.",
    ));
    next.extend(mounted::offers(past));
    next.extend(missing_calibrations(bench, past));
    next
}

fn missing_calibrations(bench: &ImpedanceBench, past: &Past) -> Vec<Choice> {
    let offers = [
        ("same_node", "Both inputs on one clip", "Takes the gain difference of the inputs out of the budget."),
        ("known_resistor", "Prove with a resistor", "Shows that the whole jig tells the truth."),
        ("short", "Zero the leads", "Takes leads and clips out of the coil's resistance."),
    ];
    let missing = offers.into_iter().filter(|(id, ..)| good_take(bench, past, id).is_none());
    // A shorted pair of clips behind a valve amplifier is no offer; behind the series resistor it is harmless.
    let suits = |id: &str| id != "short" || bench.output == Output::Headphones || bench.series_resistor_ohm >= 4.0;
    let offered = missing.filter(|(id, ..)| suits(id)).map(|(id, label, help)| choice(id, label, help));
    offered.chain(calibrate::inputs_alone(bench, past)).collect()
}
