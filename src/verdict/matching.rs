//! Which two of a set belong together: differences of every two, the best pairing, and what the others cost.
//!
//! A pair costs the mean square of its differences, each in units of the good limit: 1 is a pair that just reaches the
//! limit of a good one in everything. Squares of uncertain differences are too large by u² on average; that is taken off,
//! or a badly known part would look like a bad partner. Two pairings are told apart where their costs differ by more than
//! the uncertainty of that difference, propagated part by part: an error of a part stands in every pair it is tried in.

use super::around_resonance::{around_resonance, AROUND_RESONANCE};
use super::difference::{difference, own_uncertainty, Difference, FARTHEST};
use super::limits::{judge, PairLimit, PairVerdict};
use super::pairing::{best, best_with, Pairing, MOST};
use super::split::{by_mass, Split};
use super::upper_impedance::{upper_impedance, Magnitudes};
use crate::signal::reading::{Figure, Outcome};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use thiserror::Error;

/// One part of the set, by its reading.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct MatchPart {
    /// Name on the card.
    pub name: String,
    /// Check that the reading comes from.
    pub check: String,
    /// How the reading ended.
    pub outcome: Outcome,
    /// Its figures.
    pub values: BTreeMap<String, Figure>,
    /// Frequencies of the impedance curve, ascending; empty where there is none.
    pub frequency_hz: Vec<f64>,
    /// |Z| there.
    pub magnitude_ohm: Vec<f64>,
    /// One standard uncertainty of |Z| there.
    pub magnitude_standard_uncertainty_ohm: Vec<f64>,
}

impl MatchPart {
    pub(super) fn curve(&self) -> Magnitudes<'_> {
        Magnitudes {
            frequency_hz: &self.frequency_hz,
            magnitude_ohm: &self.magnitude_ohm,
            magnitude_standard_uncertainty_ohm: &self.magnitude_standard_uncertainty_ohm,
            values: &self.values,
        }
    }
}

/// What is asked.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct MatchSetup {
    /// Two parts to [`MOST`].
    pub parts: Vec<MatchPart>,
    /// All were taken with the same wiring, calibrations and resistor: what they share cancels.
    pub same_jig: bool,
    /// Limits within a pair.
    pub limits: Vec<PairLimit>,
}

/// Why nothing can be matched.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum MatchError {
    /// Too few or too many parts.
    #[error("{0} parts: two to {MOST} are wanted")]
    Count(usize),
    /// Readings of different checks carry different errors.
    #[error("{name}: a reading by {check} is not compared with one by {first}; take all of them by the same check")]
    Checks {
        /// The part.
        name: String,
        /// Its check.
        check: String,
        /// Check of the first part.
        first: String,
    },
    /// A refused or doubtful reading proves nothing about a pair.
    #[error("{0}: the reading is doubtful or refused; take that part again")]
    Doubtful(String),
    /// No figure stands in all readings.
    #[error("no figure with an uncertainty and a limit stands in all of these readings")]
    NothingInCommon,
}

/// A figure compared within a pair.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Compared {
    /// Name of the figure.
    pub name: String,
    /// First over second, in per cent beyond 1.
    pub percent: f64,
    /// Half-width of its 95 % interval, in per cent.
    pub half_width_95_percent: f64,
    /// Against the limits.
    pub verdict: PairVerdict,
}

/// What parts the two of a pair, in per cent first over second; there where the moving masses were measured.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Cause {
    /// `mass`, `stiffness` or `motor`.
    pub name: String,
    /// First over second, in per cent beyond 1.
    pub percent: f64,
    /// Half-width of its 95 % interval, in per cent.
    pub half_width_95_percent: f64,
}

/// Two parts side by side.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Pair {
    /// Place of the first in the set.
    pub first: usize,
    /// Place of the second.
    pub second: usize,
    /// The worst of its figures decides.
    pub verdict: PairVerdict,
    /// Every figure that all parts have.
    pub compared: Vec<Compared>,
    /// What parts them.
    pub causes: Vec<Cause>,
    /// Name of the cause that is larger than every other beyond doubt.
    pub chief_cause: Option<String>,
}

/// Another pairing and what it costs.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Alternative {
    /// Partners by their place in the set.
    pub pairs: Vec<(usize, usize)>,
    /// How much more it costs, in squared good limits a figure.
    pub more: f64,
    /// Half-width of the 95 % interval of that.
    pub half_width_95: f64,
    /// Worse by more than the readings' uncertainty.
    pub told_apart: bool,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Matched {
    /// The best pairing.
    pub pairs: Vec<Pair>,
    /// Who stays over in an odd set.
    pub left_over: Option<usize>,
    /// Other pairings, the nearest first: for every two that are no partners the best in which they are.
    pub others: Vec<Alternative>,
}

/// Logarithm of a figure of one part, for the propagation: `own` is its uncertainty that no other part shares.
struct Quantity<'a> {
    good: f64,
    limit: &'a PairLimit,
    figures: Vec<Figure>,
    own: Vec<f64>,
}

/// Finds the best pairing of a set.
///
/// # Errors
/// [`MatchError`] where the set cannot be matched.
pub fn match_parts(setup: &MatchSetup) -> Result<Matched, MatchError> {
    check(setup)?;
    let quantities = quantities(setup);
    if quantities.is_empty() {
        return Err(MatchError::NothingInCommon);
    }
    let n = setup.parts.len();
    let costs: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| cost(setup, &quantities, i, j)).collect()).collect();
    let chosen = best(&costs).ok_or(MatchError::Count(n))?;
    let pairs = chosen.pairs.iter().map(|(i, j)| pair(setup, &quantities, *i, *j)).collect();
    let others = others(&costs, &quantities, &chosen);
    Ok(Matched { pairs, left_over: chosen.left_over, others })
}

fn check(setup: &MatchSetup) -> Result<(), MatchError> {
    let n = setup.parts.len();
    let first = setup.parts.first().filter(|_| (2..=MOST).contains(&n)).ok_or(MatchError::Count(n))?;
    for part in &setup.parts {
        if part.check != first.check {
            let (name, check, first) = (part.name.clone(), part.check.clone(), first.check.clone());
            return Err(MatchError::Checks { name, check, first });
        }
        if part.outcome != Outcome::Reading {
            return Err(MatchError::Doubtful(part.name.clone()));
        }
    }
    Ok(())
}

/// What can be compared in every pair of the set.
fn quantities(setup: &MatchSetup) -> Vec<Quantity<'_>> {
    let of = |limit: &PairLimit| -> Option<Vec<Figure>> {
        setup.parts.iter().map(|part| figure_of(part, &limit.name)).collect()
    };
    let usable = |figures: &[Figure]| figures.iter().all(|f| difference(f, f, false).is_some());
    setup
        .limits
        .iter()
        .filter_map(|limit| {
            let figures = of(limit).filter(|f| usable(f))?;
            let own = figures.iter().map(|f| own_uncertainty(f, setup.same_jig)).collect();
            Some(Quantity { good: limit.good.ln_1p(), limit, figures, own })
        })
        .collect()
}

fn figure_of(part: &MatchPart, name: &str) -> Option<Figure> {
    if name == "upper_impedance" {
        upper_impedance(&part.curve())
    } else {
        part.values.get(name).cloned()
    }
}

fn compared(setup: &MatchSetup, q: &Quantity, i: usize, j: usize) -> Option<Difference> {
    difference(&q.figures[i], &q.figures[j], setup.same_jig)
}

fn cost(setup: &MatchSetup, quantities: &[Quantity], i: usize, j: usize) -> f64 {
    let squares = quantities.iter().filter_map(|q| {
        let d = compared(setup, q, i, j)?;
        let far = d.ln_ratio.abs().min(FARTHEST);
        Some((far.powi(2) - d.standard_uncertainty.powi(2)) / q.good.powi(2))
    });
    squares.sum::<f64>() / quantities.len() as f64
}

fn pair(setup: &MatchSetup, quantities: &[Quantity], i: usize, j: usize) -> Pair {
    let mut compared: Vec<Compared> =
        quantities.iter().filter_map(|q| Some(judged(q.limit, &compared(setup, q, i, j)?))).collect();
    compared.extend(curves(setup, i, j));
    let verdict = compared.iter().map(|c| c.verdict).max().unwrap_or(PairVerdict::NotProven);
    let split = split(setup, i, j);
    let chief_cause = split.as_ref().and_then(Split::chief).map(str::to_owned);
    Pair { first: i, second: j, verdict, compared, causes: split.map(causes).unwrap_or_default(), chief_cause }
}

fn judged(limit: &PairLimit, d: &Difference) -> Compared {
    let (percent, half_width_95_percent) = in_percent(d);
    Compared { name: limit.name.clone(), percent, half_width_95_percent, verdict: judge(d, limit) }
}

/// The curves around the resonance. They cost nothing in the pairing: f_s, Q's and R_e have said it there.
fn curves(setup: &MatchSetup, i: usize, j: usize) -> Option<Compared> {
    let limit = setup.limits.iter().find(|limit| limit.name == AROUND_RESONANCE)?;
    let apart = around_resonance(&setup.parts[i].curve(), &setup.parts[j].curve(), setup.same_jig)?;
    Some(judged(limit, &apart))
}

/// A logarithmic ratio as per cent beyond 1, and its half-width at that place.
fn in_percent(d: &Difference) -> (f64, f64) {
    (100.0 * d.ln_ratio.exp_m1(), 100.0 * d.ln_ratio.exp() * d.half_width_95)
}

/// Mass, stiffness and motor, where both masses were measured.
fn split(setup: &MatchSetup, i: usize, j: usize) -> Option<Split> {
    let of = |name: &str| {
        let figure = |k: usize| setup.parts[k].values.get(name);
        difference(figure(i)?, figure(j)?, setup.same_jig)
    };
    Some(by_mass(of("f_s_hz")?, of("q_es")?, of("r_e_ohm")?, of("m_ms_kg")?))
}

fn causes(split: Split) -> Vec<Cause> {
    let one = |(name, d): (&str, Difference)| {
        let (percent, half_width_95_percent) = in_percent(&d);
        Cause { name: name.to_owned(), percent, half_width_95_percent }
    };
    split.named().into_iter().map(one).collect()
}

/// The best pairing for every two that are no partners, each once, the nearest first.
fn others(costs: &[Vec<f64>], quantities: &[Quantity], chosen: &Pairing) -> Vec<Alternative> {
    let n = costs.len();
    let mut found: Vec<Pairing> = Vec::new();
    for (i, j) in (0..n).flat_map(|i| (i + 1..n).map(move |j| (i, j))) {
        let Some(other) = best_with(costs, Some((i, j))) else { continue };
        if other.pairs != chosen.pairs && !found.iter().any(|f| f.pairs == other.pairs) {
            found.push(other);
        }
    }
    found.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    found.into_iter().map(|other| alternative(quantities, chosen, other)).collect()
}

fn alternative(quantities: &[Quantity], chosen: &Pairing, other: Pairing) -> Alternative {
    let more = other.cost - chosen.cost;
    let half_width_95 = 1.96 * cost_uncertainty(quantities, chosen, &other);
    Alternative { pairs: other.pairs, more, half_width_95, told_apart: more > half_width_95 }
}

/// Standard uncertainty of the difference in cost of two pairings. To first order a part's error e moves the cost by
/// 2 e times the difference of its partners' distances; to second order by e² where it has another partner.
fn cost_uncertainty(quantities: &[Quantity], chosen: &Pairing, other: &Pairing) -> f64 {
    let count = quantities.len() as f64;
    let variance = quantities.iter().map(|q| {
        let ln: Vec<f64> = q.figures.iter().map(|f| f.value.ln()).collect();
        let gap = |pairing: &Pairing, k: usize| pairing.partner(k).map_or(0.0, |other| ln[k] - ln[other]);
        let moved = (0..ln.len()).map(|k| {
            let slope = 2.0 * (gap(other, k) - gap(chosen, k)) / q.good.powi(2);
            (slope * q.own[k]).powi(2) + second_order(q, chosen, other, k)
        });
        moved.sum::<f64>()
    });
    variance.sum::<f64>().sqrt() / count
}

/// Variance of the products of two parts' errors, halved between both: 4 u² u'² where they are partners in one pairing only.
fn second_order(q: &Quantity, chosen: &Pairing, other: &Pairing, k: usize) -> f64 {
    let (a, b) = (chosen.partner(k), other.partner(k));
    if a == b {
        return 0.0;
    }
    let product = |m: Option<usize>| m.map_or(0.0, |m| 2.0 * (q.own[k] * q.own[m]).powi(2) / q.good.powi(4));
    product(a) + product(b)
}

#[cfg(test)]
#[path = "matching_tests.rs"]
mod tests;
