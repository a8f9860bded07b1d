//! The impedance check by microphone: bench card, output, wiring, a safe level, the room, then takes without, with, with
//! and without the resistor.
//!
//! After the first take the forecast says what this room and level will give. The first take with the resistor is played
//! as that without; its rough reading shapes the second one, so that the cone travels alike. Both together show whether
//! gain follows level: where it does mildly, the shaped take is played again at the very level of the others. Level search
//! and bench card are those of the check with two inputs, both set to the microphone.

mod connect;
mod read;
mod shaping;
mod takes;
#[cfg(test)]
mod walks;

use super::bench::{ImpedanceBench, MicrophoneBench, Output};
use super::impedance::shared;
use super::past::Past;
use super::step::{Action, Happening, Step};

/// Highest frequency played: above it the pressure at one place is not the cone's mean.
const HIGH_HZ: f64 = 1000.0;
/// Steps that give takes, in the order of the road.
const TAKES: [&str; 6] = ["silence", "without", "loaded", "with", "with_shaped", "without_again"];

type Station = fn(&MicrophoneBench, &Past) -> Option<Step>;

/// Stations in the order of the road.
const ROAD: [Station; 8] = [
    |bench, _| shared::setup(&ImpedanceBench { driver_channel: second(bench), ..two_inputs(bench) }),
    connect::bench_card,
    connect::output,
    connect::connect,
    |bench, past| shared::volts(&two_inputs(bench), past),
    |bench, past| shared::level(&two_inputs(bench), past).map(heard),
    takes::takes,
    read::analyse,
];

/// Next step of the check. Never fails: what cannot go on is a step that refuses, with its remedy.
pub fn step(bench: &MicrophoneBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    ROAD.iter().find_map(|station| station(bench, &past)).unwrap_or_else(|| read::read(bench, &past))
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        "bench_card" | "connect" => &[
            "level",
            "volts_tone",
            "silence",
            "without",
            "loaded",
            "with",
            "with_shaped",
            "without_again",
            "connect",
            "forecast",
        ],
        "level" => &["silence", "without", "loaded", "with", "with_shaped", "without_again", "forecast"],
        "without" => &["loaded", "with", "with_shaped", "without_again"],
        "with" => &["with_shaped", "without_again"],
        _ => &[],
    }
}

/// The same bench as the check with two inputs sees it.
fn two_inputs(bench: &MicrophoneBench) -> ImpedanceBench {
    ImpedanceBench {
        series_resistor_ohm: bench.series_resistor_ohm,
        series_resistor_relative_uncertainty: bench.series_resistor_relative_uncertainty,
        source_channel: bench.channel,
        driver_channel: bench.channel,
        output: Output::Amplifier,
        limit_v: bench.limit_v,
        rate_hz: bench.rate_hz,
        new_device: false,
        practice: bench.practice,
    }
}

/// A second input that is not there, where two are asked for.
fn second(bench: &MicrophoneBench) -> usize {
    if bench.channel == 0 {
        0
    } else {
        bench.channel + 1
    }
}

/// What is played while the level is looked for has the band of the takes, and one input hears it.
fn heard(mut step: Step) -> Step {
    if let Action::Play { stimulus, channels, .. } = &mut step.action {
        stimulus.high_hz = HIGH_HZ;
        channels.dedup();
    }
    step
}
