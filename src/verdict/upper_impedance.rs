//! The impedance from 1 to 10 kHz as one figure: the better alarm for shorted turns, which f_s and Q do not see.

use crate::math::budget::Budget;
use crate::math::robust;
use crate::signal::reading::Figure;
use std::collections::BTreeMap;

/// Below this the rise of most coils tells nothing, above it leads and clips speak. Common practice, no source.
const BAND_HZ: (f64, f64) = (1000.0, 10_000.0);
/// Fewer points than this are no curve.
const FEWEST_POINTS: usize = 10;
/// Three neighbours of a smooth curve with scatter s: the middle one less the mean of the others scatters by √(3/2) s.
const SECOND_DIFFERENCE: f64 = 1.224_744_871_391_589;

/// A curve of |Z| and the figures that were read with it.
pub(super) struct Magnitudes<'a> {
    pub frequency_hz: &'a [f64],
    pub magnitude_ohm: &'a [f64],
    pub magnitude_standard_uncertainty_ohm: &'a [f64],
    pub values: &'a BTreeMap<String, Figure>,
}

struct Point {
    ln_hz: f64,
    ln_ohm: f64,
    relative: f64,
}

/// Geometric mean of |Z| over the band, every octave with the same weight; none where the curve does not reach from end to
/// end, as two parts would be compared over different bands.
///
/// The curve's own uncertainty is mostly the jig's, which two parts share. What a part has alone is its scatter, seen
/// between neighbouring points, and what moves its R_e (clips, temperature): that changes |Z| by no more ohms than R_e.
pub(super) fn upper_impedance(curve: &Magnitudes) -> Option<Figure> {
    let points = points(curve);
    let (first, last) = (points.first()?, points.last()?);
    let reaches = first.ln_hz < (1.1 * BAND_HZ.0).ln() && last.ln_hz > (BAND_HZ.1 / 1.1).ln();
    if points.len() < FEWEST_POINTS || !reaches {
        return None;
    }
    let value = mean(&points, |p| p.ln_ohm).exp();
    let mut budget = Budget::new(value);
    budget.add("impedance_curve", value * mean(&points, |p| p.relative), true, f64::INFINITY);
    budget.add("noise", value * scatter(&points) / (points.len() as f64).sqrt(), false, f64::INFINITY);
    let alone = curve.values.get("r_e_ohm").into_iter().flat_map(|r_e| &r_e.budget);
    for c in alone.filter(|c| !c.common && c.source != "noise") {
        budget.add(&c.source, c.effect, false, f64::INFINITY);
    }
    Some(Figure::from_budget(budget, 1.96))
}

fn points(curve: &Magnitudes) -> Vec<Point> {
    let rows = curve.frequency_hz.iter().zip(curve.magnitude_ohm).zip(curve.magnitude_standard_uncertainty_ohm);
    rows.filter(|((hz, ohm), _)| (BAND_HZ.0..=BAND_HZ.1).contains(*hz) && **ohm > 0.0)
        .map(|((hz, ohm), u)| Point { ln_hz: hz.ln(), ln_ohm: ohm.ln(), relative: u / ohm })
        .collect()
}

/// Mean over the logarithm of frequency, by trapezia.
fn mean(points: &[Point], of: fn(&Point) -> f64) -> f64 {
    let steps = points.windows(2).map(|w| (w[1].ln_hz - w[0].ln_hz) * 0.5 * (of(&w[0]) + of(&w[1])));
    steps.sum::<f64>() / (points[points.len() - 1].ln_hz - points[0].ln_hz)
}

/// Relative scatter of one point, from how far each lies off the line through its neighbours.
fn scatter(points: &[Point]) -> f64 {
    let off: Vec<f64> = points.windows(3).map(|w| w[1].ln_ohm - 0.5 * (w[0].ln_ohm + w[2].ln_ohm)).collect();
    robust::mad(&off).unwrap_or(0.0) * robust::MAD_TO_SIGMA / SECOND_DIFFERENCE
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::reading::Outcome;
    use crate::verdict::matching::MatchPart;

    fn part(noise: f64) -> MatchPart {
        let mut random = Random::new(3);
        let frequency_hz: Vec<f64> = (0..260).map(|i| 900.0 * 1.01f64.powi(i)).collect();
        let magnitude_ohm: Vec<f64> =
            frequency_hz.iter().map(|hz| 6.0 * (hz / 1000.0).sqrt() * (1.0 + noise * random.normal())).collect();
        MatchPart {
            name: "a".to_owned(),
            check: "impedance".to_owned(),
            outcome: Outcome::Reading,
            values: Default::default(),
            magnitude_standard_uncertainty_ohm: magnitude_ohm.iter().map(|ohm| 0.01 * ohm).collect(),
            frequency_hz,
            magnitude_ohm,
        }
    }

    #[test]
    fn a_root_of_the_frequency_has_its_mean_in_the_middle() {
        // √x over a decade: 6 · 10^(1/4); the band's ends lie within one step of 1 %.
        let figure = upper_impedance(&part(0.0).curve()).unwrap();
        assert!((figure.value / (6.0 * 10f64.powf(0.25)) - 1.0).abs() < 0.005, "{}", figure.value);
        let noise = figure.budget.iter().find(|c| c.source == "noise").map_or(0.0, |c| c.effect);
        assert!(noise < 1e-6 * figure.value, "a smooth curve has no scatter: {noise}");
    }

    #[test]
    fn scatter_is_told_from_the_jig() {
        let points = points(&part(0.004).curve());
        // 230 points: the median deviation of normal values has a relative scatter of 1.17/√n = 7.7 % (37 % efficiency); neighbours share
        // points, which widens it by at most √3. Twice 13 %.
        assert!((scatter(&points) / 0.004 - 1.0).abs() < 0.26, "{}", scatter(&points));
    }

    #[test]
    fn a_curve_that_ends_early_is_not_compared() {
        let mut short = part(0.0);
        short.frequency_hz.truncate(180);
        assert!(upper_impedance(&short.curve()).is_none());
    }
}
