//! Two curves around the resonance as one figure: the root mean square of ln |Z|, first over second, from f_s/2 to 2 f_s.
//!
//! f_s, Q_ms, Q_es and R_e say the same in parts; this says in one number whether the two curves lie upon each other. Every
//! octave has the same weight. Its uncertainty follows from the figures': the height of the peak, the level beside it (R_e),
//! and f_s by the curve's root mean square slope. That is an upper bound, because the peak's moves only the peak.

use super::difference::{difference, Difference};
use super::upper_impedance::Magnitudes;
use crate::math::axes::{interpolate, logarithmic};

/// Name in the list of what was compared.
pub(super) const AROUND_RESONANCE: &str = "around_resonance";
/// Places an octave; the peak of Q 10 is a seventh of an octave wide.
const PLACES: usize = 97;
/// A curve has at least so many points between the ends.
const FEWEST_POINTS: usize = 12;

/// The difference, never negative; none where a curve does not reach from end to end or a figure is missing.
pub(super) fn around_resonance(first: &Magnitudes, second: &Magnitudes, same_jig: bool) -> Option<Difference> {
    let of = |name: &str| difference(first.values.get(name)?, second.values.get(name)?, same_jig);
    let f_s = |curve: &Magnitudes| Some(curve.values.get("f_s_hz")?.value).filter(|f| *f > 0.0);
    let centre = (f_s(first)? * f_s(second)?).sqrt();
    let places = logarithmic(0.5 * centre, 2.0 * centre, PLACES);
    let (a, b) = (at(first, &places)?, at(second, &places)?);
    let apart: Vec<f64> = a.iter().zip(&b).map(|(a, b)| a - b).collect();
    let step = 4f64.ln() / (PLACES - 1) as f64;
    let slope: Vec<f64> = a.windows(2).map(|w| (w[1] - w[0]) / step).collect();
    let (peak, beside, along) = (of("z_max_ohm")?, of("r_e_ohm")?, of("f_s_hz")?);
    let sum =
        |pick: fn(&Difference) -> f64| pick(&peak).hypot(pick(&beside)).hypot(pick(&along) * root_mean_square(&slope));
    Some(Difference {
        ln_ratio: root_mean_square(&apart),
        standard_uncertainty: sum(|d| d.standard_uncertainty),
        half_width_95: sum(|d| d.half_width_95),
    })
}

/// ln |Z| at the places.
fn at(curve: &Magnitudes, places: &[f64]) -> Option<Vec<f64>> {
    let (low, high) = (places[0], places[places.len() - 1]);
    let (from, to) = (curve.frequency_hz.first()?, curve.frequency_hz.last()?);
    // Nothing is made up beyond the ends.
    if *from > 1.02 * low || *to < high / 1.02 {
        return None;
    }
    if curve.frequency_hz.iter().filter(|hz| (low..=high).contains(*hz)).count() < FEWEST_POINTS {
        return None;
    }
    let values = places.iter().map(|hz| interpolate(curve.frequency_hz, curve.magnitude_ohm, *hz));
    values.map(|ohm| ohm.filter(|ohm| *ohm > 0.0).map(f64::ln)).collect()
}

/// By trapezia over equal steps.
fn root_mean_square(values: &[f64]) -> f64 {
    let steps = values.windows(2).map(|w| 0.5 * (w[0] * w[0] + w[1] * w[1]));
    (steps.sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::budget::Budget;
    use crate::signal::reading::Figure;
    use std::collections::BTreeMap;

    fn figure(value: f64) -> Figure {
        let mut budget = Budget::new(value);
        budget.add("noise", 0.001 * value, false, f64::INFINITY);
        Figure::from_budget(budget, 1.96)
    }

    /// |Z| = (f/40)^slope × level: a straight line, so that the answers are known by hand.
    fn compared(slope: f64, level: f64, low_hz: f64) -> Option<Difference> {
        let values: BTreeMap<String, Figure> =
            [("f_s_hz", 40.0), ("z_max_ohm", 60.0), ("r_e_ohm", 6.0)].map(|(n, v)| (n.to_owned(), figure(v))).into();
        let frequency_hz = logarithmic(low_hz, 200.0, 400);
        let of = |level: f64| frequency_hz.iter().map(|hz| level * (hz / 40.0).powf(slope)).collect::<Vec<f64>>();
        let (one, other) = (of(level), of(1.0));
        let curve = |magnitude_ohm| Magnitudes {
            frequency_hz: &frequency_hz,
            magnitude_ohm,
            magnitude_standard_uncertainty_ohm: &[],
            values: &values,
        };
        around_resonance(&curve(&one), &curve(&other), true)
    }

    #[test]
    fn a_level_apart_and_a_slope_by_hand() {
        let flat = compared(0.0, 1.05, 10.0).unwrap();
        // 0.1 % twice: √2 · 0.1 % of the peak and of R_e, nothing of f_s where the curve is flat.
        assert!((flat.ln_ratio - 1.05f64.ln()).abs() < 1e-12 && (flat.standard_uncertainty - 0.002).abs() < 1e-12);
        let steep = compared(3.0, 1.0, 10.0).unwrap();
        // f_s by three times its own: √(0.2² + (3 · 0.1414)²) %; the steps of the stored curve bend the line by 1e-4.
        assert!(steep.ln_ratio < 1e-12 && (steep.standard_uncertainty - 0.0046904).abs() < 1e-5, "{steep:?}");
    }

    #[test]
    fn a_curve_that_begins_too_late_is_not_compared() {
        assert!(compared(0.0, 1.0, 25.0).is_none());
    }
}
