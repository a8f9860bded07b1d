//! The polarity check: bench card, the input's own sign, then one driver after the other, and the reading of all.

mod stations;

#[cfg(test)]
mod walks;

use super::bench::PolarityBench;
use super::past::Past;
use super::step::{Happening, Step};

/// Next step of the polarity check. Never fails: what cannot go on is a step that refuses, with its remedy.
pub fn step(bench: &PolarityBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    stations::bench_card(bench, &past)
        .or_else(|| stations::learn(bench, &past))
        .or_else(|| stations::drivers(bench, &past))
        .or_else(|| stations::analyse(bench, &past))
        .unwrap_or_else(|| stations::read(bench, &past))
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        "drivers" => &["driver", "connect_driver", "read", "read_doubtful", "read_refused"],
        "sign" => &["sign", "cell", "connect_cell", "known_driver", "connect_known_driver"],
        _ => &[],
    }
}
