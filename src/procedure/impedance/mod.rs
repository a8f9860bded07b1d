//! The impedance check: bench card, connect, volts, level, linearity, calibrations, takes, reading.
//!
//! Each station looks at the past and either wants something (a step) or lets the road go on. The first station that
//! wants something is the next step, so the same past always gives the same step and nothing is kept aside.

mod calibrate;
mod connect;
mod flexed;
mod level;
mod level_riding;
mod linearity;
mod mounted;
mod read;
mod takes;
#[cfg(test)]
mod trouble_walks;
#[cfg(test)]
mod walks;

pub use flexed::step as loose_joint_step;

use super::bench::ImpedanceBench;
use super::past::Past;
use super::step::{Happening, Step};

type Station = fn(&ImpedanceBench, &Past) -> Option<Step>;

/// Stations in the order of the road.
const ROAD: [Station; 10] = [
    connect::setup,
    connect::bench_card,
    connect::connect,
    connect::volts,
    level::level,
    linearity::linearity,
    calibrate::calibrate,
    takes::driver,
    mounted::mounted,
    read::analyse,
];

/// Stations and findings that the check with one input shares.
pub(super) mod shared {
    use super::super::bench::ImpedanceBench;
    use super::super::past::Past;
    use super::super::step::{Caution, ChannelNote, Step, TakeNote, TickItem};
    use super::{connect, level as levels, linearity as linear, read};
    use crate::signal::notice::Notice;

    pub(in crate::procedure) fn setup(bench: &ImpedanceBench) -> Option<Step> {
        connect::setup(bench, &Past::new(&[], |_| &[]))
    }

    pub(in crate::procedure) fn bench_card(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
        connect::bench_card(bench, past)
    }

    pub(in crate::procedure) fn card(past: &Past, items: Vec<TickItem>, more: Vec<Caution>) -> Option<Step> {
        connect::card_step(past, items, more)
    }

    pub(in crate::procedure) fn volts(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
        connect::volts(bench, past)
    }

    pub(in crate::procedure) fn meter_r_e_ohm(past: &Past) -> Option<f64> {
        connect::meter_r_e_ohm(past)
    }

    pub(in crate::procedure) fn level_words(past: &Past, level_dbfs: f64) -> String {
        read::level_words(past, level_dbfs)
    }

    pub(in crate::procedure) fn attitude_words(past: &Past) -> &'static str {
        connect::attitude_words(past)
    }

    pub(in crate::procedure) fn level(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
        levels::level(bench, past)
    }

    pub(in crate::procedure) fn found(bench: &ImpedanceBench, past: &Past) -> (f64, Option<Notice>) {
        levels::found(bench, past)
    }

    pub(in crate::procedure) fn channel(take: &TakeNote, number: usize) -> Option<&ChannelNote> {
        levels::channel(take, number)
    }

    pub(in crate::procedure) fn is_clipped(bench: &ImpedanceBench, take: &TakeNote) -> bool {
        levels::is_clipped(bench, take)
    }

    pub(in crate::procedure) fn linearity(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
        linear::linearity(bench, past)
    }
}

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
            "driver_weighted",
            "driver_in_box",
        ],
        "level" => &["linearity_mid", "linearity_low", "driver", "driver_again", "driver_weighted", "driver_in_box"],
        "driver" => &["driver_again"],
        "linearity_mid" => &["linearity_low"],
        _ => &[],
    }
}
