//! Two drivers at once, one on each input channel: each driver's figures by knock, and the difference of the pair.
//!
//! What: f_s, Q_ms and, with a resistor, Q_es and Q_ts of both; 100 ln(first/second) of each in per cent. Method: the knock
//! check, once a channel, over the same takes; what both share cancels in the difference ([`super::pair_budget`]).
//! Roles of takes: `free` (both drivers as stated: open, or each with a resistor of its own of this value), `first` and
//! `second` (one and the same resistor at one driver, then at the other). Valid where the knock check is.

use super::knock_check::{analyse_with_basis, Basis, KnockSensor, KnockSetup};
use super::pair_budget::{differences, COMPARED};
use super::pair_knocks::{one_signal, spot_pair};
pub use super::pair_setup::PairSetup;
use super::pair_setup::ROLES;
use crate::math::order::by_name;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{Outcome, Reading};
use crate::signal::role_take::{RoleTake, SetupError};
use crate::signal::sentences::of_driver;
use std::collections::BTreeMap;

const CHECK: &str = "pair";
const METHOD: &str = "the knock's damped sinusoids for each of two channels, shared errors cancelled in the difference";
/// How each driver's part is called in the names of the reading.
pub const DRIVERS: [&str; 2] = ["first", "second"];
/// Resonances further apart than this are not of two of a kind (limits for a pair end at 6 %; common practice).
const UNLIKE: f64 = 1.25;

/// Analyses the takes of two drivers.
///
/// # Errors
/// [`SetupError`] where a stated value or a take's role cannot be used; everything that the takes themselves cannot
/// answer is a refusal inside the reading.
pub fn analyse(setup: &PairSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    setup.check(takes)?;
    let both: Vec<&RoleTake> = takes.iter().filter(|t| t.role == ROLES[0]).collect();
    if let Some(refusal) = both.iter().find_map(|t| one_signal(&t.take, setup.channels())) {
        return Ok(Reading::refused(CHECK, METHOD, refusal));
    }
    let first = one(setup, takes, 0)?;
    let second = one(setup, takes, 1)?;
    Ok(together(setup, takes, [first, second]))
}

/// One driver by itself.
struct One {
    reading: Reading,
    basis: Option<Basis>,
    /// Knocks that were answers to the other driver's.
    answers: usize,
}

fn one(setup: &PairSetup, takes: &[RoleTake], driver: usize) -> Result<One, SetupError> {
    let mut own = KnockSetup::new(KnockSensor::Coil, setup.channels()[driver]);
    own.r_e_ohm = [setup.first_r_e_ohm, setup.second_r_e_ohm][driver];
    own.input_resistance_ohm = setup.input_resistance_ohm;
    let counts = |t: &&RoleTake| t.role == ROLES[0] || t.role == DRIVERS[driver];
    let mut answers = 0;
    let takes: Vec<RoleTake> = takes
        .iter()
        .filter(counts)
        .map(|t| {
            let (set_aside, others) = own_numbers(setup, t, driver);
            answers += others;
            RoleTake { role: ROLES[0].to_owned(), set_aside, ..t.clone() }
        })
        .collect();
    let (reading, basis) = analyse_with_basis(&own, &takes).map_err(|e| named_for(e, driver))?;
    Ok(One { reading, basis, answers })
}

/// A field of one driver's setup by its name in that of the pair.
fn named_for(error: SetupError, driver: usize) -> SetupError {
    match error.field.as_str() {
        "r_e_ohm" => SetupError { field: format!("{}_r_e_ohm", DRIVERS[driver]), ..error },
        _ => error,
    }
}

/// Knocks to be set aside by their numbers in the driver's own channel, and how many of them the other driver caused. In
/// a take of both, the person's numbers run through both channels in order of time.
fn own_numbers(setup: &PairSetup, t: &RoleTake, driver: usize) -> (Vec<u32>, usize) {
    if t.role != ROLES[0] {
        return (t.set_aside.clone(), 0);
    }
    let (mut numbers, mut answers, mut own) = (Vec::new(), 0, 0);
    for (k, number) in spot_pair(&t.take, setup.channels()).iter().zip(1u32..) {
        if k.driver != driver {
            continue;
        }
        own += 1;
        let answer = k.knock.set_aside.as_ref().is_some_and(|n| n.code == Code::OtherDriver);
        answers += usize::from(answer);
        if answer || t.set_aside.contains(&number) {
            numbers.push(own);
        }
    }
    (numbers, answers)
}

fn together(setup: &PairSetup, takes: &[RoleTake], both: [One; 2]) -> Reading {
    if let Some(refusal) = refusal(setup, &both) {
        let mut refused = Reading::refused(CHECK, METHOD, refusal);
        both.iter().zip(DRIVERS).for_each(|(one, name)| take_over(&mut refused, one, name));
        refused.values.clear();
        return refused;
    }
    let mut reading = Reading::new(CHECK, METHOD);
    both.iter().zip(DRIVERS).for_each(|(one, name)| take_over(&mut reading, one, name));
    let [first, second] = &both;
    if let (Some(a), Some(b)) = (&first.basis, &second.basis) {
        let one_resistor = takes.iter().all(|t| t.load_ohm.is_none() || t.role != ROLES[0]);
        let shown = |name: &str| both.iter().all(|one| one.reading.values.contains_key(name));
        let found = differences([(&a.0, &a.1), (&b.0, &b.1)], one_resistor);
        for (name, figure) in found {
            if COMPARED.iter().any(|(of, difference)| *difference == name && shown(of)) {
                reading.values.insert(name.to_owned(), figure);
            }
        }
    }
    unlike(&mut reading);
    reading
}

/// Values, choices, curves and warnings of one driver under its name.
fn take_over(reading: &mut Reading, one: &One, name: &str) {
    let from = &one.reading;
    let number = if name == DRIVERS[0] { 1 } else { 2 };
    // What would tell most next is asked of the pair, not of each.
    let own = |of: &str| !of.starts_with("next") && !of.starts_with("suggested_");
    reading.values.extend(prefixed(name, from.values.clone().into_iter().filter(|(of, _)| own(of))));
    reading.chosen.extend(prefixed(name, from.chosen.clone().into_iter().filter(|(of, _)| own(of))));
    reading.curves.extend(prefixed(name, from.curves.clone()));
    for notice in &from.warnings {
        // What was set aside as an answer to the other driver is no person's doing.
        if let Some(notice) = without_answers(notice, one.answers) {
            reading.warn(of(number, notice), false);
        }
    }
    if one.answers > 0 {
        let notice = Notice::new(Code::OtherDriver, &[("knocks_set_aside", one.answers as f64)]);
        reading.warn(of(number, notice), false);
    }
    if from.outcome == Outcome::Doubtful && reading.outcome == Outcome::Reading {
        reading.outcome = Outcome::Doubtful;
    }
}

fn without_answers(notice: &Notice, answers: usize) -> Option<Notice> {
    if notice.code != Code::SetAside || answers == 0 {
        return Some(notice.clone());
    }
    let by_hand = notice.numbers.get("knocks_set_aside").map_or(0.0, |n| n - answers as f64);
    (by_hand > 0.0).then(|| Notice::new(Code::SetAside, &[("knocks_set_aside", by_hand)]))
}

fn prefixed<T>(name: &str, named: impl IntoIterator<Item = (String, T)>) -> BTreeMap<String, T> {
    by_name(named.into_iter().map(|(of, value)| (format!("{name}_{of}"), value)))
}

/// A notice of one driver says which.
fn of(number: usize, notice: Notice) -> Notice {
    let mut out = Notice { message: of_driver(number, &notice.message), ..notice };
    out.numbers.insert("driver".to_owned(), number as f64);
    out
}

/// The first reason for which there is no difference: a silent input beside one that lives is the lead's.
fn refusal(setup: &PairSetup, both: &[One; 2]) -> Option<Notice> {
    let silent = |one: &One| one.reading.refusal.as_ref().is_some_and(|n| n.code == Code::Silent);
    for d in 0..2 {
        if silent(&both[d]) && !silent(&both[1 - d]) {
            let told = |name: &str| both[d].reading.refusal.as_ref().and_then(|n| n.numbers.get(name)).copied();
            let known = ["rms_dbfs", "constant_samples"].map(|name| (name, told(name).unwrap_or(f64::NAN)));
            let channel = ("channel", setup.channels()[d] as f64);
            return Some(Notice::new(Code::DeadChannel, &[channel, known[0], known[1]]));
        }
    }
    let refused = |d: usize| both[d].reading.refusal.clone();
    match (refused(0), refused(1)) {
        (Some(n), Some(_)) if silent(&both[0]) => Some(n),
        (Some(n), _) => Some(of(1, n)),
        (None, Some(n)) => Some(of(2, n)),
        _ => None,
    }
}

/// Two drivers of quite different resonance share less than the difference's uncertainty says.
fn unlike(reading: &mut Reading) {
    let f = |name: &str| reading.values.get(name).map(|figure| figure.value);
    let (Some(a), Some(b)) = (f("first_f_s_hz"), f("second_f_s_hz")) else { return };
    let ratio = (a / b).max(b / a);
    if ratio > UNLIKE {
        reading.warn(Notice::new(Code::UnlikeDrivers, &[("resonance_ratio", ratio)]), true);
    }
}
