//! Tone by tone: which one comes next, what the meter read, and when it is enough. The list of readings lives here.

use super::super::bench::MeterBench;
use super::super::build::{choice, drawing, ohm_words};
use super::super::past::Past;
use super::super::step::{Action, Answer, Choice, DrawingKind, Field, Happening, Stage, Step};
use super::connect::{r_e_ohm, second_words};
use super::level::{doubt, found, tone, volt_field};
use crate::driver::meter_check::contradiction;
use crate::driver::meter_next::{next_tone, NextTone};
use crate::driver::meter_setup::MeterSetup;
use crate::electrical::meter_reading::{Across, MeterReading};
use crate::signal::notice::Notice;
use crate::signal::wording::three_digits;
use std::collections::BTreeMap;

/// Tones at least before the figures can be called certain enough, and tones at most.
const TONES: (usize, usize) = (8, 12);
/// Readings from which on figures can be tried.
const TRY_FROM: usize = 5;
/// Steps whose answers are readings.
const STEPS: [&str; 2] = ["tone", "readings"];

/// Station: wants one more reading.
pub(super) fn tones(bench: &MeterBench, past: &Past) -> Option<Step> {
    let setup = setup_of(bench, past);
    let count = setup.readings.len();
    let wanted = wanted(past);
    if wanted == Wanted::Figures && count > 0 {
        return None;
    }
    if bench.by_hand || wanted == Wanted::Table {
        return Some(table(bench, &setup));
    }
    if count >= TONES.1 && wanted != Wanted::OneMore {
        return None;
    }
    let next = next_tone(&setup);
    if count >= TONES.0 && next.is_enough() && wanted != Wanted::OneMore {
        return None;
    }
    Some(one_tone(bench, past, &setup, &next))
}

/// What the person asked for last.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Readings,
    OneMore,
    Table,
    Figures,
}

fn wanted(past: &Past) -> Wanted {
    past.events().iter().fold(Wanted::Readings, |before, e| match e {
        Happening::Confirmed { step, .. } if STEPS.contains(&step.as_str()) => match before {
            Wanted::Table => Wanted::Table,
            _ => Wanted::Readings,
        },
        // A new level wants its readings anew.
        Happening::Confirmed { step, .. } if step == "level" => Wanted::Readings,
        Happening::Chosen { choice, .. } => match choice.as_str() {
            "read_now" => Wanted::Figures,
            "another_tone" => Wanted::OneMore,
            "look_through" => Wanted::Table,
            _ => before,
        },
        Happening::Read { .. } => Wanted::Figures,
        _ => before,
    })
}

fn one_tone(bench: &MeterBench, past: &Past, setup: &MeterSetup, next: &NextTone) -> Step {
    let (peak_dbfs, _) = found(bench, past);
    let hz = next.frequency_hz;
    let action = Action::Sound {
        stimulus: tone(bench, hz, peak_dbfs),
        fields: volts(bench).into(),
        button: "Keep, next tone".to_owned(),
    };
    let count = setup.readings.len();
    let sentence = format!("Tone at {hz}\u{a0}Hz: read both volts.");
    Step::new(Stage::Measure, "tone", &sentence, action)
        .note(&so_far(next))
        .progress(count, TONES.0.max(count + 1).min(TONES.1), None)
        .choices(choices(count, true))
        .notices(notices(bench, past, setup))
}

/// Readings typed at once: from paper, or to look them through.
fn table(bench: &MeterBench, setup: &MeterSetup) -> Step {
    let hz = Field { unit: "Hz".to_owned(), low: 0.5, high: 1e5, ..volt_field("frequency_hz", "Frequency", "") };
    let [driver, second] = volts(bench);
    let action = Action::Ask { fields: vec![hz, driver, second], button: "Keep this reading".to_owned() };
    let count = setup.readings.len();
    let labels = [
        ("resistor", ohm_words(setup.series_resistor_ohm)),
        ("output", "source".to_owned()),
        ("first_volts", "across the driver".to_owned()),
        ("second_volts", second_words(bench).to_owned()),
    ];
    let sentence =
        if count == 0 { "Type the readings, one tone at a time." } else { "Next reading, or look them through." };
    Step::new(Stage::Measure, "readings", sentence, action)
        .note("In any order; the more on both sides of the peak, the surer. Nine or ten serve well.")
        .drawing(drawing(DrawingKind::MeterByHand, &labels))
        .progress(count, TONES.0.max(count + 1), None)
        .choices(choices(count, false))
        .notices(slip(setup).into_iter().collect())
}

fn volts(bench: &MeterBench) -> [Field; 2] {
    let (id, label) = match bench.across {
        Across::Resistor => ("resistor_v", "Across the resistor"),
        Across::Both => ("source_v", "Across driver and resistor together"),
    };
    [volt_field("driver_v", "Across the driver", ""), volt_field(id, label, "With the same meter.")]
}

fn choices(count: usize, sounding: bool) -> Vec<Choice> {
    let mut out = Vec::new();
    if count >= TRY_FROM {
        out.push(choice("read_now", "Read the figures now", ""));
    }
    if sounding && count > 0 {
        out.push(choice("look_through", "Look through the readings", "Correct one, or type one of your own."));
    }
    out
}

/// How far the search or the figures are.
fn so_far(next: &NextTone) -> String {
    if let Some([f_s, _, q_ts]) = next.so_far {
        return format!(
            "So far the resonance is certain to {}\u{a0}%, Q_ts to {}\u{a0}%, by the readings alone. Wait until the display stands still.",
            three_digits(100.0 * f_s),
            three_digits(100.0 * q_ts)
        );
    }
    match next.sought_between_hz {
        Some((low, high)) => {
            format!("The resonance is sought between {} and {}\u{a0}Hz.", three_digits(low), three_digits(high))
        }
        None => "First across the driver, then the other pair. Wait until the display stands still.".to_owned(),
    }
}

fn notices(bench: &MeterBench, past: &Past, setup: &MeterSetup) -> Vec<Notice> {
    slip(setup).into_iter().chain(doubt(bench, past)).collect()
}

fn slip(setup: &MeterSetup) -> Option<Notice> {
    setup.check().ok().and_then(|()| contradiction(setup))
}

/// The setup of the analysis as far as it is known.
pub(super) fn setup_of(bench: &MeterBench, past: &Past) -> MeterSetup {
    MeterSetup {
        series_resistor_ohm: bench.series_resistor_ohm,
        series_resistor_relative_uncertainty: bench.series_resistor_relative_uncertainty,
        readings: readings(bench, past),
        accuracy: bench.accuracy,
        r_e_ohm: r_e_ohm(past),
        r_e_standard_uncertainty_ohm: None,
        frequency_relative_uncertainty: None,
    }
}

/// The readings as they now stand.
pub(super) fn readings(bench: &MeterBench, past: &Past) -> Vec<MeterReading> {
    let mut list = Vec::new();
    for event in past.events() {
        if let Happening::Confirmed { step, answers } = event {
            if STEPS.contains(&step.as_str()) {
                take_up(&mut list, bench, answers);
            }
        }
    }
    list
}

/// One answer: a new reading, a corrected or a deleted one. What cannot be a reading changes nothing.
fn take_up(list: &mut Vec<MeterReading>, bench: &MeterBench, answers: &BTreeMap<String, Answer>) {
    let number = |name: &str| answers.get(name).and_then(Answer::number);
    let at = number("number").map(|n| n as usize).and_then(|n| n.checked_sub(1));
    if at.is_some_and(|at| at >= list.len()) {
        return;
    }
    if let (Some(at), Some(Answer::Bool(true))) = (at, answers.get("deleted")) {
        list.remove(at);
        return;
    }
    let volts = |name: &str| number(name).filter(|v| (1e-6..=1000.0).contains(v));
    let hz = number("frequency_hz").filter(|hz| (0.5..=1e5).contains(hz));
    let (Some(frequency_hz), Some(driver_v)) = (hz, volts("driver_v")) else { return };
    let (source_v, resistor_v) = match bench.across {
        Across::Resistor => (None, volts("resistor_v")),
        Across::Both => (volts("source_v"), None),
    };
    if source_v.or(resistor_v).is_none() {
        return;
    }
    let reading = MeterReading { frequency_hz, source_v, driver_v, resistor_v };
    match at {
        Some(at) => list[at] = reading,
        None if list.len() < crate::driver::meter_setup::MOST_READINGS => list.push(reading),
        None => {}
    }
}
