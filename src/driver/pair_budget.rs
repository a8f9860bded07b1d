//! The difference of two drivers that were knocked on the same input, with the errors that both share cancelled.
//!
//! What: 100 ln(x_1/x_2) in per cent for each figure x that both have. Method: every cause of the knock's budget moves the
//! inputs of its own driver; a cause that both share moves them together by the part it shares, and what each has of its
//! own moves one alone (law of propagation for correlated inputs, JCGM 100:2008 5.2, with the correlation written as a
//! shared part). Shared parts: [`super::knock_budget`].

use super::knock_budget::{causes, Cause, Knowledge};
use super::knock_figures::Inputs;
use crate::math::budget::{propagate, sensitivities, Budget, Source};
use crate::math::quantiles::student_t;
use crate::signal::reading::Figure;

/// One driver of the two.
pub(super) type Driver<'a> = (&'a Inputs, &'a Knowledge);

/// Figures that are compared, and the names of their differences.
pub(super) const COMPARED: [(&str, &str); 4] = [
    ("f_s_hz", "difference_f_s_percent"),
    ("q_ms", "difference_q_ms_percent"),
    ("q_es", "difference_q_es_percent"),
    ("q_ts", "difference_q_ts_percent"),
];

/// Differences, first over second driver, of the figures that both have. `one_resistor`: a load of one value is one and the
/// same part, moved from driver to driver; otherwise two of the same print.
pub(super) fn differences(drivers: [Driver; 2], one_resistor: bool) -> Vec<(&'static str, Figure)> {
    let each = drivers.map(|(inputs, knowledge)| causes(inputs, knowledge));
    let first = each[0].len();
    let count = first + each[1].len();
    let at_rest = [0, 1].map(|d| logarithms(drivers[d].0));
    let names: Vec<usize> = (0..COMPARED.len()).filter(|k| at_rest.iter().all(|d| d[*k].is_some())).collect();
    let moved = |by: &[f64]| -> Vec<f64> {
        let sides = [&by[..first], &by[first..]];
        let moved = [0, 1].map(|d| logarithms(&moved_by(drivers[d].0, &each[d], sides[d])));
        // A figure that vanishes under a move counts as not moved.
        let of = |d: usize, k: usize| moved[d][k].or(at_rest[d][k]).unwrap_or(0.0);
        names.iter().map(|k| 100.0 * (of(0, *k) - of(1, *k))).collect()
    };
    let rest = vec![0.0; count];
    let values = moved(&rest);
    let jacobian = sensitivities(&rest, &vec![1.0; count], moved);
    let budgets = propagate(&values, &jacobian, &sources(&each, one_resistor));
    names.iter().zip(budgets).map(|(k, budget)| (COMPARED[*k].1, figure(budget))).collect()
}

fn figure(budget: Budget) -> Figure {
    let factor = student_t(0.975, budget.degrees_of_freedom().max(1.0));
    Figure::from_budget(budget, factor)
}

fn moved_by(inputs: &Inputs, causes: &[Cause], by: &[f64]) -> Inputs {
    let mut moved = inputs.clone();
    causes.iter().zip(by).filter(|(_, by)| **by != 0.0).for_each(|(cause, by)| (cause.apply)(&mut moved, *by));
    moved
}

/// Logarithms of the compared figures, in their order.
fn logarithms(inputs: &Inputs) -> [Option<f64>; COMPARED.len()] {
    let values = inputs.values();
    COMPARED.map(|(name, _)| values.iter().find(|(n, v)| *n == name && *v > 0.0).map(|(_, v)| v.ln()))
}

/// Causes of both drivers as sources of their common calculation, the first driver's inputs before the second's.
fn sources(each: &[Vec<Cause>; 2], one_resistor: bool) -> Vec<Source> {
    let count = each[0].len() + each[1].len();
    let mut out = Vec::new();
    let mut alone = |cause: &Cause, at: usize, part: f64| {
        if part > 0.0 {
            let mut change = vec![0.0; count];
            change[at] = part;
            out.push(Source::new(cause.name, false, vec![change], cause.freedom));
        }
    };
    let mut shared = Vec::new();
    let mut taken = vec![false; each[1].len()];
    for (i, cause) in each[0].iter().enumerate() {
        let partner = partner(cause, each, &taken).filter(|_| own(cause, one_resistor) < 1.0);
        let Some(j) = partner else {
            alone(cause, i, 1.0);
            continue;
        };
        taken[j] = true;
        let at = each[0].len() + j;
        let part = own(cause, one_resistor);
        alone(cause, i, part);
        alone(cause, at, part);
        let mut change = vec![0.0; count];
        (change[i], change[at]) = ((1.0 - part * part).sqrt(), (1.0 - part * part).sqrt());
        shared.push(Source::new(cause.name, true, vec![change], cause.freedom));
    }
    for (j, cause) in each[1].iter().enumerate().filter(|(j, _)| !taken[*j]) {
        alone(cause, each[0].len() + j, 1.0);
    }
    out.extend(shared);
    out
}

/// The same cause at the other driver.
fn partner(cause: &Cause, each: &[Vec<Cause>; 2], taken: &[bool]) -> Option<usize> {
    let same = |other: &Cause| other.name == cause.name && other.load_ohm == cause.load_ohm;
    each[1].iter().enumerate().position(|(j, other)| !taken[j] && same(other))
}

fn own(cause: &Cause, one_resistor: bool) -> f64 {
    match cause.load_ohm {
        Some(_) if !one_resistor => 1.0,
        _ => cause.own.clamp(0.0, 1.0),
    }
}
