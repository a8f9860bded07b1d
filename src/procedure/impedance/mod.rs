//! The impedance check: bench card, connect, volts, level, linearity, calibrations, takes, reading.
//!
//! Each station looks at the past and either wants something (a step) or lets the road go on. The first station that
//! wants something is the next step, so the same past always gives the same step and nothing is kept aside.

mod calibrate;
mod connect;
mod level;
mod linearity;
mod read;
mod takes;
#[cfg(test)]
mod trouble_walks;
#[cfg(test)]
mod walks;

use super::bench::ImpedanceBench;
use super::past::Past;
use super::step::{Happening, Step};

type Station = fn(&ImpedanceBench, &Past) -> Option<Step>;

/// Stations in the order of the road.
const ROAD: [Station; 9] = [
    connect::setup,
    connect::bench_card,
    connect::connect,
    connect::volts,
    level::level,
    linearity::linearity,
    calibrate::calibrate,
    takes::driver,
    read::analyse,
];

/// Next step of the impedance check. Never fails: what cannot go on is a step that refuses, with its remedy.
pub fn step(bench: &ImpedanceBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    ROAD.iter().find_map(|station| station(bench, &past)).unwrap_or_else(|| read::read(bench, &past))
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        "bench_card" | "connect" => &[
            "level",
            "linearity_mid",
            "linearity_low",
            "driver",
            "driver_again",
            "reconnect",
            "same_node",
            "known_resistor",
            "short",
            "open",
            "volts_tone",
        ],
        "level" => &["linearity_mid", "linearity_low", "driver", "driver_again"],
        "driver" => &["driver_again"],
        "linearity_mid" => &["linearity_low"],
        _ => &[],
    }
}
