//! The analysis of all rounds together, and what could be done next.

use super::super::bench::PairBench;
use super::super::build::choice;
use super::super::closing::{self, Ending, Material};
use super::super::past::{take_use, Past};
use super::super::step::{Choice, ReadingNote, Step, TakeUse};
use super::rounds::rounds;
use crate::math::order::by_name;
use std::collections::BTreeMap;

/// Station: the takes were not read yet.
pub(super) fn analyse(bench: &PairBench, past: &Past) -> Option<Step> {
    closing::analyse(past, material(bench, past))
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &PairBench, past: &Past) -> Step {
    closing::read(past, material(bench, past), |reading| Ending {
        next: suggestions(reading),
        note: missing(reading).to_owned(),
        notices: Vec::new(),
    })
}

fn material(bench: &PairBench, past: &Past) -> Material {
    let mut uses = Vec::new();
    for round in rounds(past) {
        for (role, at, take) in round.good_takes(bench, past) {
            uses.push(TakeUse { role: role.to_owned(), ..take_use(past, at, take) });
        }
    }
    Material { fields: fields(bench, past), what: "knocks", ..Material::of(uses) }
}

/// Answers on the way that the analysis wants.
fn fields(bench: &PairBench, past: &Past) -> BTreeMap<String, f64> {
    let coils = ["first_r_e_ohm", "second_r_e_ohm"].map(|name| (name, past.number("load", name)));
    let known = coils.into_iter().chain([("input_resistance_ohm", bench.input_resistance_ohm)]);
    by_name(known.filter_map(|(name, value)| Some((name, value.filter(|v| *v > 0.0)?))))
}

/// What the figures so far leave open.
fn missing(reading: &ReadingNote) -> &'static str {
    let has = |name: &str| reading.values.contains_key(name);
    match (has("difference_q_es_percent"), has("difference_q_ms_percent")) {
        (true, _) => "Everything that two knocks can tell is there. What both share was taken out of their difference.",
        (false, true) => {
            "Open terminals give resonance and mechanical loss of each. One resistor, moved from driver to \
                          driver, and both coils' ohms add Q_es and Q_ts."
        }
        _ => "Only what both drivers tell can be compared.",
    }
}

fn suggestions(reading: &ReadingNote) -> Vec<Choice> {
    let again = choice("knock_again", "Knock again, both open", "More knocks, and it shows what repeats.");
    if reading.refusal.is_some() {
        return vec![again, choice("again:connect", "Back to the wiring", "All rounds begin anew.")];
    }
    let resistor = choice("add_resistor", "A resistor across one, then the other", "It adds Q_es and Q_ts of each.");
    match reading.values.contains_key("difference_q_es_percent") {
        true => vec![again, resistor],
        false => vec![resistor, again],
    }
}
