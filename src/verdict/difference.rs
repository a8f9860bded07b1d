//! Two figures of the same kind compared as the logarithm of their ratio, with what both share cancelled.
//!
//! d = ln(left/right). Relative effects of a source that both took with the same jig are subtracted, all others are put
//! together by squares (JCGM 100:2008, 5.2: fully correlated inputs). Valid for ratios near 1 (a factor of two at most).

use crate::math::budget::Contribution;
use crate::signal::reading::Figure;

/// Farther apart than this they are not two of a kind, and a logarithm's straight line no longer holds.
pub const FARTHEST: f64 = std::f64::consts::LN_2;

/// A logarithmic ratio; times 100 it is per cent, for small ones.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// ln(left/right).
    pub ln_ratio: f64,
    /// One standard uncertainty.
    pub standard_uncertainty: f64,
    /// Half-width of the 95 % interval.
    pub half_width_95: f64,
}

/// The difference of two positive figures; none where one of them is not positive or has no uncertainty.
/// `same_jig`: both were taken with the same wiring, calibrations and resistor.
pub fn difference(left: &Figure, right: &Figure, same_jig: bool) -> Option<Difference> {
    let positive = left.value > 0.0 && right.value > 0.0;
    let coverage = coverage_factor(left)?.max(coverage_factor(right)?);
    let ln_ratio = positive.then(|| (left.value / right.value).ln())?;
    let shared = |c: &Contribution| same_jig && c.common;
    let alone = [left, right].into_iter().map(|figure| {
        let partner = if std::ptr::eq(figure, left) { right } else { left };
        let cancels = |c: &Contribution| shared(c) && partner_of(c, partner).is_some_and(shared);
        figure.budget.iter().filter(|c| !cancels(c)).map(|c| (c.effect / figure.value).powi(2)).sum::<f64>()
    });
    let both = left.budget.iter().filter(|c| shared(c)).filter_map(|c| {
        let other = partner_of(c, right).filter(|o| shared(o))?;
        Some(left_over(c.effect / left.value, other.effect / right.value, ln_ratio))
    });
    let standard_uncertainty = (alone.sum::<f64>() + both.sum::<f64>()).sqrt();
    Some(Difference { ln_ratio, standard_uncertainty, half_width_95: coverage * standard_uncertainty })
}

fn partner_of<'a>(c: &Contribution, figure: &'a Figure) -> Option<&'a Contribution> {
    figure.budget.iter().find(|other| other.source == c.source)
}

/// Variance that stays of a shared source. A source of several changes (gain and phase) stands in the budget as a length
/// without direction; the directions of two like parts differ by no more than the parts do, to first order.
fn left_over(a: f64, b: f64, ln_ratio: f64) -> f64 {
    (a - b).powi(2) + (ln_ratio * a.abs().max(b.abs())).powi(2)
}

/// Relative uncertainty that this figure has alone, where others were taken with the same jig.
pub(super) fn own_uncertainty(figure: &Figure, same_jig: bool) -> f64 {
    let own = figure.budget.iter().filter(|c| !(same_jig && c.common));
    own.map(|c| (c.effect / figure.value).powi(2)).sum::<f64>().sqrt()
}

/// Student's quantile that the figure was given with.
fn coverage_factor(figure: &Figure) -> Option<f64> {
    let (u, half) = (figure.standard_uncertainty?, figure.half_width_95?);
    Some(if u > 0.0 { half / u } else { 1.96 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::budget::Budget;

    fn figure(value: f64, parts: &[(&str, f64, bool)]) -> Figure {
        let mut budget = Budget::new(value);
        for (source, effect, common) in parts {
            budget.add(source, *effect, *common, f64::INFINITY);
        }
        Figure::from_budget(budget, 1.96)
    }

    #[test]
    fn a_resistor_that_both_share_cancels_and_noise_does_not() {
        // Resistor 0.5 % in both, noise 0.3 % and 0.4 %: √(0.3² + 0.4²) = 0.5 %.
        let left = figure(8.0, &[("series_resistor", 0.04, true), ("noise", 0.024, false)]);
        let right = figure(8.0, &[("series_resistor", 0.04, true), ("noise", 0.032, false)]);
        let d = difference(&left, &right, true).unwrap();
        assert!((d.standard_uncertainty - 0.005).abs() < 1e-12 && d.ln_ratio == 0.0);
        let apart = difference(&left, &right, false).unwrap();
        assert!((apart.standard_uncertainty - (0.005f64.powi(2) * 3.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn what_only_one_of_them_has_stays() {
        let left = figure(10.0, &[("gain_match", 0.1, true)]);
        let right = figure(10.0, &[("noise", 0.0, false), ("leads", 0.05, true)]);
        let d = difference(&left, &right, true).unwrap();
        assert!((d.standard_uncertainty - 0.01f64.hypot(0.005)).abs() < 1e-12);
    }

    #[test]
    fn unlike_parts_keep_a_share_of_what_they_have_in_common() {
        let left = figure(10.0, &[("gain_match", 0.1, true)]);
        let right = figure(8.0, &[("gain_match", 0.08, true)]);
        let d = difference(&left, &right, true).unwrap();
        assert!((d.standard_uncertainty - 0.01 * (10.0f64 / 8.0).ln()).abs() < 1e-12);
    }

    #[test]
    fn nothing_is_compared_without_an_uncertainty() {
        let bare = Figure::without_uncertainty(8.0, "typed");
        let good = figure(8.0, &[("noise", 0.1, false)]);
        assert!(difference(&bare, &good, true).is_none() && difference(&figure(-1.0, &[]), &good, true).is_none());
    }
}
