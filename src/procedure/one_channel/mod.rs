//! The impedance check with one input: bench card, level, linearity, and the four takes in their order.
//!
//! A known resistor, nothing, the driver, the resistor again. All takes are played at one level: where a top is cut off,
//! the level falls and the road begins again with the resistor. Bench card, level and linearity are those of the check
//! with two inputs, both set to the one input that there is.

mod read;
mod takes;
#[cfg(test)]
mod walks;

use super::bench::{ImpedanceBench, OneChannelBench, Output};
use super::build::{channel_words, drawing, ohm_field, ohm_words};
use super::cautions;
use super::impedance::shared;
use super::past::Past;
use super::step::{Action, Drawing, DrawingKind, Happening, Stage, Step};
use crate::signal::notice::{Code, Notice};

/// Known resistors that a driver can be compared with: too small and it is lost in the clips, too large and a driver's
/// level is far from its own. Common practice, no source.
const KNOWN_OHM: (f64, f64) = (2.0, 100.0);
/// What hangs on the practice bench's rail.
const PRACTICE_KNOWN_OHM: f64 = 8.2;

type Station = fn(&OneChannelBench, &Past) -> Option<Step>;

/// Stations in the order of the road.
const ROAD: [Station; 8] = [
    setup,
    |bench, past| shared::bench_card(&two_inputs(bench), past),
    known_value,
    connect,
    |bench, past| shared::level(&two_inputs(bench), past).map(|s| with_resistor(s, past)),
    |bench, past| shared::linearity(&two_inputs(bench), past).map(|s| with_resistor(s, past)),
    takes::takes,
    read::analyse,
];

/// Next step of the check. Never fails: what cannot go on is a step that refuses, with its remedy.
pub fn step(bench: &OneChannelBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    ROAD.iter().find_map(|station| station(bench, &past)).unwrap_or_else(|| read::read(bench, &past))
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        "bench_card" | "connect" | "known_value" => {
            &["level", "linearity_mid", "linearity_low", "resistor", "open", "driver", "resistor_again", "connect"]
        }
        "level" => &["linearity_mid", "linearity_low", "resistor", "open", "driver", "resistor_again"],
        "resistor" => &["open", "driver", "resistor_again"],
        "driver" => &["resistor_again"],
        "linearity_mid" => &["linearity_low"],
        _ => &[],
    }
}

/// The same bench as the check with two inputs sees it.
fn two_inputs(bench: &OneChannelBench) -> ImpedanceBench {
    ImpedanceBench {
        series_resistor_ohm: bench.series_resistor_ohm,
        series_resistor_relative_uncertainty: bench.series_resistor_relative_uncertainty,
        source_channel: bench.channel,
        driver_channel: bench.channel,
        output: Output::Headphones,
        limit_v: None,
        rate_hz: bench.rate_hz,
        new_device: bench.new_device,
        practice: bench.practice,
    }
}

/// What is played while the level is looked for meets the known resistor, and one input hears it.
fn with_resistor(mut step: Step, past: &Past) -> Step {
    if let Action::Play { resistor_ohm, channels, .. } = &mut step.action {
        *resistor_ohm = known_ohm(past);
        channels.dedup();
    }
    step
}

/// A setup that cannot give a figure is refused at once.
fn setup(bench: &OneChannelBench, _: &Past) -> Option<Step> {
    // The other conditions are the two-channel check's; its second input stands for what is not there.
    let second = if bench.channel == 0 { 0 } else { bench.channel + 1 };
    shared::setup(&ImpedanceBench { driver_channel: second, ..two_inputs(bench) })
}

/// The known resistor's value, once.
fn known_value(bench: &OneChannelBench, past: &Past) -> Option<Step> {
    if known_ohm(past).is_some() {
        return None;
    }
    let default = bench.practice.then_some(PRACTICE_KNOWN_OHM);
    let help = "As a meter reads it, or a part of 1 % and better. About as large as the driver's own resistance.";
    let field = ohm_field("resistor_ohm", "The known resistor", KNOWN_OHM, default, help);
    let note = match past.number("known_value", "resistor_ohm") {
        Some(_) => "That lies outside 2 to 100 Ω.",
        None => "It stands in the driver's place before and after the driver, and everything is measured against it.",
    };
    let action = Action::Ask { fields: vec![field], button: "Keep".to_owned() };
    Some(
        Step::new(Stage::Connect, "known_value", "Which known resistor will stand in the driver's place?", action)
            .note(note),
    )
}

fn known_ohm(past: &Past) -> Option<f64> {
    past.number("known_value", "resistor_ohm").filter(|r| (KNOWN_OHM.0..=KNOWN_OHM.1).contains(r))
}

/// The wiring, with the known resistor in the driver's place.
fn connect(bench: &OneChannelBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("connect").is_some() {
        return None;
    }
    let note = if bench.practice {
        "Nothing needs wiring on the practice bench. The drawing shows what it stands for.".to_owned()
    } else {
        format!(
            "{} across the known resistor, minus leads at one point. From here on touch no volume and no gain knob: \
             all takes are compared with one another.",
            channel_words(bench.channel)
        )
    };
    let sentence = format!(
        "Put {} between output and the known resistor, where the driver will be.",
        ohm_words(bench.series_resistor_ohm)
    );
    let shown = if bench.practice { Vec::new() } else { vec![cautions::excursion()] };
    Some(
        Step::new(Stage::Connect, "connect", &sentence, Action::Confirm { button: "Connected".to_owned() })
            .note(&note)
            .cautions(shown)
            .drawing(jig(bench, past, DrawingKind::OneInputResistor)),
    )
}

/// A drawing of the jig with the person's values.
fn jig(bench: &OneChannelBench, past: &Past, kind: DrawingKind) -> Drawing {
    let mut labels = vec![
        ("resistor", ohm_words(bench.series_resistor_ohm)),
        ("driver_input", channel_words(bench.channel)),
        ("output", "headphone output".to_owned()),
        ("ground", "both minus leads at one point".to_owned()),
    ];
    if let Some(ohm) = known_ohm(past).filter(|_| kind == DrawingKind::OneInputResistor) {
        labels.push(("known_resistor", ohm_words(ohm)));
    }
    drawing(kind, &labels)
}

/// Why a take cannot serve: lost samples count here, where takes are compared.
const FATAL: [Code; 5] = [Code::Clipped, Code::Silent, Code::DeadChannel, Code::Gap, Code::TooFewChannels];

fn fatal(notices: &[Notice]) -> Option<Notice> {
    notices.iter().find(|n| FATAL.contains(&n.code)).cloned()
}
