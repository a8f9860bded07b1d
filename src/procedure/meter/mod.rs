//! The check by meter: bench card, connect, ohms, level, tone by tone, reading; or readings typed from paper.
//!
//! A typed reading is the answer to a step `tone` or `readings`: the volts, the frequency, and where a reading is
//! corrected its `number`; `deleted` takes one away. The list of readings is folded from these answers, so that a step
//! back takes the last of them back.

mod connect;
mod level;
mod read;
mod tones;
#[cfg(test)]
mod walks;

use super::bench::MeterBench;
use super::past::Past;
use super::step::{Happening, Step};

type Station = fn(&MeterBench, &Past) -> Option<Step>;

/// Stations in the order of the road.
const ROAD: [Station; 7] =
    [connect::setup, connect::bench_card, connect::connect, connect::ohms, level::level, tones::tones, read::analyse];

/// Next step of the check by meter. Never fails: what cannot go on is a step that refuses, with its remedy.
pub fn step(bench: &MeterBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    let mut next = ROAD.iter().find_map(|station| station(bench, &past)).unwrap_or_else(|| read::read(bench, &past));
    next.readings = tones::readings(bench, &past);
    next
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        "bench_card" | "connect" => &["level", "tone", "readings"],
        "level" => &["tone"],
        _ => &[],
    }
}
