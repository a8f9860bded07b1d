//! Two drivers at once: bench card, a cable from each to an input of its own, knocks on both in turn, reading; then, where
//! wished, one resistor across the one and across the other, and a reading of all takes together.

mod connect;
mod listen;
mod read;
mod rounds;
#[cfg(test)]
mod walks;

use super::bench::PairBench;
use super::past::Past;
use super::step::{Happening, Step};

/// Next step of the check of two drivers. Never fails: what cannot go on is a step that refuses, with its remedy.
pub fn step(bench: &PairBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    connect::setup(bench)
        .or_else(|| connect::bench_card(&past))
        .or_else(|| connect::connect(bench, &past))
        .or_else(|| rounds::rounds(&past).iter().find_map(|round| rounds::next(bench, &past, round)))
        .or_else(|| read::analyse(bench, &past))
        .unwrap_or_else(|| read::read(bench, &past))
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        "bench_card" | "connect" => {
            &["listen", "listen_first", "listen_second", "read", "read_doubtful", "read_refused", "load"]
        }
        _ => &[],
    }
}
