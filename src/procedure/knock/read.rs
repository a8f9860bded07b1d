//! The analysis of all rounds together, and what could be done next: which resistor, which weight, or done.

use super::super::bench::KnockBench;
use super::super::build::{choice, ohm_words};
use super::super::closing::{self, Ending, Material};
use super::super::past::{take_use, Past};
use super::super::step::{Choice, Happening, ReadingNote, Step, TakeNote};
use super::proposals;
use super::rounds::{diameter_m, good_take, rounds, Kind};
use crate::driver::knock_check::{GOOD_LOADED_Q, LOADED_Q};
use crate::math::order::by_name;
use crate::math::robust;
use crate::signal::notice::{Code, Notice};
use crate::signal::wording::three_digits;
use std::collections::BTreeMap;

/// Station: the takes were not read yet.
pub(super) fn analyse(bench: &KnockBench, past: &Past) -> Option<Step> {
    closing::analyse(past, material(bench, past))
}

/// End of the road: the reading and what could be done next.
pub(super) fn read(bench: &KnockBench, past: &Past) -> Step {
    let rounds = takes(bench, past);
    closing::read(past, material(bench, past), |reading| Ending {
        next: suggestions(bench, past, reading, &rounds),
        note: missing(bench, &rounds).to_owned(),
        notices: weight_notice(&rounds).into_iter().chain(load_notice(&rounds)).collect(),
    })
}

fn material(bench: &KnockBench, past: &Past) -> Material {
    let uses = takes(bench, past).into_iter().map(|(_, at, take)| take_use(past, at, take)).collect();
    Material { fields: fields(bench, past), what: "knocks", ..Material::of(uses) }
}

/// The usable take of every round.
fn takes<'a>(bench: &KnockBench, past: &Past<'a>) -> Vec<(Kind, usize, &'a TakeNote)> {
    let all = rounds(bench, past).into_iter();
    all.filter_map(|round| good_take(bench, past, &round).map(|(at, take)| (round.kind, at, take))).collect()
}

/// Answers on the way that the analysis wants.
fn fields(bench: &KnockBench, past: &Past) -> BTreeMap<String, f64> {
    let known = [
        ("r_e_ohm", bench.r_e_ohm.or_else(|| past.number("load", "r_e_ohm"))),
        ("input_resistance_ohm", bench.input_resistance_ohm),
        ("effective_diameter_m", diameter_m(bench, past)),
        ("driver_displacement_m3", past.number("box", "driver_displacement_m3")),
        ("air_pressure_pa", past.number("box", "air_pressure_pa")),
    ];
    let celsius = past.number("box", "air_temperature_c").map(|c| ("air_temperature_c", c));
    let given = known.into_iter().filter_map(|(name, value)| Some((name, value.filter(|v| *v > 0.0)?)));
    by_name(given.chain(celsius))
}

/// Figures of the last reading, whatever it was made of.
pub(super) fn last_values<'a>(past: &Past<'a>) -> Option<&'a BTreeMap<String, f64>> {
    past.events().iter().rev().find_map(|e| match e {
        Happening::Read { reading } => Some(&reading.values),
        _ => None,
    })
}

/// What the figures so far leave open.
fn missing(bench: &KnockBench, rounds: &[(Kind, usize, &TakeNote)]) -> &'static str {
    let loads = rounds.iter().filter(|(kind, ..)| *kind == Kind::Load).count();
    let weighted = rounds.iter().any(|(kind, ..)| *kind == Kind::Weight);
    match (loads, weighted) {
        (0, _) => "Open terminals give the resonance and the mechanical loss. A resistor adds Q_es and Q_ts.",
        (1, false) if bench.r_e_ohm.is_none() => {
            "Without the coil's resistance one resistor is not enough for Q_es: type it, or take a second resistor."
        }
        (_, false) => "A weighed weight on the cone adds moving mass, compliance, force factor and equivalent volume.",
        (_, true) => "Everything that a knock can tell is there.",
    }
}

fn suggestions(
    bench: &KnockBench,
    past: &Past,
    reading: &ReadingNote,
    rounds: &[(Kind, usize, &TakeNote)],
) -> Vec<Choice> {
    let has = |kind: Kind| rounds.iter().any(|(k, ..)| *k == kind);
    let again = choice("knock_again", "Knock again, terminals open", "More knocks, and it shows what repeats.");
    let mut next = Vec::new();
    if reading.refusal.is_some() {
        next.push(again.clone());
        next.push(choice("again:connect", "Back to the wiring", "All rounds begin anew."));
        return next;
    }
    let second_load = load_serves(reading, rounds) != Some(true);
    let load = load_choice(bench, past, reading);
    if second_load {
        next.extend(load.clone());
    }
    if weight_notice(rounds).is_some() || !has(Kind::Weight) {
        next.push(weight_choice(rounds));
    }
    if !second_load {
        next.extend(load);
    }
    next.extend(box_choice(has(Kind::Box), has(Kind::Load), has(Kind::BoxLoad)));
    next.push(again);
    next
}

/// The next resistor with its value, where one would show anything.
fn load_choice(bench: &KnockBench, past: &Past, reading: &ReadingNote) -> Option<Choice> {
    let get = |name: &str| reading.values.get(name).copied();
    let r_e = bench.r_e_ohm.or_else(|| past.number("load", "r_e_ohm"));
    let ohm = proposals::load_ohm(get("q_ms")?, get("q_es"), r_e)?;
    let label = format!("A resistor across the terminals: {}", ohm_words(ohm));
    Some(choice("add_resistor", &label, "Gives Q_es and Q_ts. About this value brings the ring to a Q of 1.6."))
}

fn weight_choice(rounds: &[(Kind, usize, &TakeNote)]) -> Choice {
    let help = match suggested_kg(rounds) {
        Some(kg) => format!("About {}\u{a0}g suits this cone.", three_digits(1000.0 * kg)),
        None => "Gives the moving mass. Choose 30 to 100 % of it, weighed, fixed with putty.".to_owned(),
    };
    choice("add_weight", "A weight on the cone", &help)
}

/// The box, and once something was heard in it, the resistor there.
fn box_choice(boxed: bool, loaded: bool, both: bool) -> Option<Choice> {
    match (boxed, loaded && !both) {
        (false, _) => Some(choice("in_box", "In a known box", "Gives V_as from a closed box of known volume.")),
        (true, true) => {
            let help = "It tells whether the moving mass is the same in the box, which is assumed otherwise.";
            Some(choice("box_resistor", "The same resistor, in the box", help))
        }
        _ => None,
    }
}

/// Weight over moving mass of the last weighted round, with the weight in kilograms.
fn weighed(rounds: &[(Kind, usize, &TakeNote)]) -> Option<(f64, f64)> {
    let frequency = |wanted: Kind| {
        let mut takes = rounds.iter().rev().filter(|(kind, ..)| *kind == wanted);
        takes.find_map(|(_, _, take)| Some((median(take.knocks.iter().filter_map(|k| k.frequency_hz))?, *take)))
    };
    let (open_hz, _) = frequency(Kind::Open)?;
    let (weighted_hz, take) = frequency(Kind::Weight)?;
    Some((proposals::weight_ratio(open_hz, weighted_hz)?, take.added_mass_kg?))
}

fn suggested_kg(rounds: &[(Kind, usize, &TakeNote)]) -> Option<f64> {
    // The middle of what serves, by ratio: √(0.3 · 1.0) of the moving mass.
    let (ratio, kg) = weighed(rounds)?;
    Some(kg / ratio * (proposals::GOOD_WEIGHT.0 * proposals::GOOD_WEIGHT.1).sqrt())
}

/// The weight was too light or too heavy for this cone.
fn weight_notice(rounds: &[(Kind, usize, &TakeNote)]) -> Option<Notice> {
    let (ratio, _) = weighed(rounds)?;
    let numbers = [("of_cone", ratio), ("suggested_g", 1000.0 * suggested_kg(rounds)?)];
    if ratio < proposals::GOOD_WEIGHT.0 {
        return Some(Notice::new(Code::LightWeight, &numbers));
    }
    (ratio > proposals::GOOD_WEIGHT.1).then(|| Notice::new(Code::HeavyWeight, &numbers))
}

/// The last resistor damped too much.
fn load_notice(rounds: &[(Kind, usize, &TakeNote)]) -> Option<Notice> {
    let (_, _, take) = rounds.iter().rev().find(|(kind, ..)| *kind == Kind::Load)?;
    let q = median(take.knocks.iter().filter_map(|k| k.q))?;
    let numbers = [("q", q), ("wanted_q", LOADED_Q), ("load_ohm", take.load_ohm?)];
    (q < GOOD_LOADED_Q.start).then(|| Notice::new(Code::Overdamped, &numbers))
}

/// Whether the last resistor brought the ring close to the wanted Q; none before the first one.
fn load_serves(reading: &ReadingNote, rounds: &[(Kind, usize, &TakeNote)]) -> Option<bool> {
    let (_, _, take) = rounds.iter().rev().find(|(kind, ..)| *kind == Kind::Load)?;
    let q = median(take.knocks.iter().filter_map(|k| k.q)).unwrap_or(LOADED_Q);
    let q_ms = reading.values.get("q_ms").copied().unwrap_or(f64::INFINITY);
    // A driver whose open ring is hardly longer than the wanted one cannot do better than it does.
    Some((GOOD_LOADED_Q.start..GOOD_LOADED_Q.end.min(0.8 * q_ms)).contains(&q))
}

/// Middle value; none without finite ones.
fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    robust::median(&values.filter(|x| x.is_finite()).collect::<Vec<_>>())
}
