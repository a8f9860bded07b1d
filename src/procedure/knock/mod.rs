//! The knock check: bench card, wiring, knocks with open terminals, reading; then, round by round, a resistor across the
//! terminals or a weight on the cone, each followed by knocks and a new reading of all takes together.

mod connect;
mod listen;
mod proposals;
mod read;
mod rounds;
#[cfg(test)]
mod walks;

pub(super) use listen::{DIE_AWAY_S, LEAST, TOO_LOUD_DBFS, TOO_QUIET_DBFS, TRIES};
pub(super) use proposals::{load_ohm, of_two};
pub(super) use rounds::LOAD_OHM;

use super::bench::KnockBench;
use super::past::Past;
use super::step::{Happening, Step};

/// Next step of the knock check. Never fails: what cannot go on is a step that refuses, with its remedy.
pub fn step(bench: &KnockBench, history: &[Happening]) -> Step {
    let past = Past::new(history, forgets);
    let before = connect::setup(bench, &past)
        .or_else(|| connect::bench_card(bench, &past))
        .or_else(|| connect::connect(bench, &past));
    before
        .or_else(|| rounds::rounds(bench, &past).iter().find_map(|round| rounds::next(bench, &past, round)))
        .or_else(|| read::analyse(bench, &past))
        .unwrap_or_else(|| read::read(bench, &past))
}

/// What a repeat of a step makes worthless.
fn forgets(step: &str) -> &'static [&'static str] {
    match step {
        // Everything was heard by another wiring; the rounds that followed go too.
        "bench_card" | "connect" => &[
            "listen",
            "listen_loaded",
            "listen_weighted",
            "listen_boxed",
            "listen_boxed_loaded",
            "read",
            "read_doubtful",
            "read_refused",
            "load",
            "weight",
            "box",
        ],
        _ => &[],
    }
}
