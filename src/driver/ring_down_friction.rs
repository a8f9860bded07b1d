//! Friction from the swings themselves: each half swing against the one before.
//!
//! A viscous loss takes the same part off every half swing, dry friction the same amount besides: next = a·last − b.
//! The straight line through all pairs of neighbouring half swings, of all knocks together, goes through the origin for
//! viscous loss and below it for friction. Statistic: −intercept over its standard error, one-sided Student with n − 2
//! degrees of freedom. (Free vibration with Coulomb friction: any textbook of mechanical vibration.)
//! Valid for rings of at least three half swings above the noise; the input's own motion is taken off beforehand.

use crate::math::quantiles::student_t;

/// Outcome of the test.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct SwingTest {
    /// Amount that each half swing loses beside its part, over the median of the first swings.
    pub loss: f64,
    /// That over its standard error.
    pub statistic: f64,
    /// What the statistic must exceed: 1 in 100 by chance (and the loss must be large besides).
    pub limit: f64,
}

/// Heights of the half swings of a ring until they sink below `floor`.
pub(super) fn half_swings(samples: &[f64], floor: f64) -> Vec<f64> {
    let mut out = Vec::new();
    let mut from = 0;
    for n in 1..=samples.len() {
        let turns = n == samples.len() || (samples[n] >= 0.0) != (samples[from] >= 0.0);
        if !turns {
            continue;
        }
        // The first and the last piece may be cut off; a piece without an inner top is no swing.
        if let Some(top) = inner_top(samples, from, n) {
            if top < floor {
                break;
            }
            out.push(top);
        } else if !out.is_empty() {
            break;
        }
        from = n;
    }
    out
}

/// Height of the top between two crossings by a parabola through three samples; none where the top is at an end.
fn inner_top(samples: &[f64], from: usize, until: usize) -> Option<f64> {
    let at = (from..until).max_by(|a, b| samples[*a].abs().total_cmp(&samples[*b].abs()))?;
    if at == 0 || at + 1 >= samples.len() || at == from && from == 0 {
        return None;
    }
    let (before, top, after) = (samples[at - 1].abs(), samples[at].abs(), samples[at + 1].abs());
    let bend = before - 2.0 * top + after;
    Some(if bend < 0.0 { top - (after - before).powi(2) / (8.0 * bend) } else { top })
}

/// The line through (half swing, next half swing) of all rings.
pub(super) fn swing_test(rings: &[Vec<f64>]) -> Option<SwingTest> {
    let pairs: Vec<(f64, f64)> = rings.iter().flat_map(|r| r.windows(2).map(|w| (w[0], w[1]))).collect();
    let firsts: Vec<f64> = rings.iter().filter_map(|r| r.first().copied()).collect();
    let first = crate::math::robust::median(&firsts)?;
    let n = pairs.len() as f64;
    if pairs.len() < 5 {
        return None;
    }
    let mean = |pick: fn(&(f64, f64)) -> f64| pairs.iter().map(pick).sum::<f64>() / n;
    let (x, y) = (mean(|p| p.0), mean(|p| p.1));
    let sxx: f64 = pairs.iter().map(|p| (p.0 - x).powi(2)).sum();
    let sxy: f64 = pairs.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    if sxx <= 0.0 {
        return None;
    }
    let slope = sxy / sxx;
    let intercept = y - slope * x;
    let left: f64 = pairs.iter().map(|p| (p.1 - intercept - slope * p.0).powi(2)).sum();
    let error = (left / (n - 2.0) * (1.0 / n + x * x / sxx)).sqrt().max(1e-4 * first);
    Some(SwingTest { loss: -intercept / first, statistic: -intercept / error, limit: student_t(0.99, n - 2.0) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn swings(first: f64, part: f64, amount: f64) -> Vec<f64> {
        std::iter::successors(Some(first), |a| Some(a * part - amount).filter(|n| *n > 0.02)).collect()
    }

    #[test]
    fn a_constant_amount_is_friction_and_a_constant_part_is_not() {
        let rubbing: Vec<Vec<f64>> = [1.0, 0.8, 1.3].iter().map(|a| swings(*a, 0.75, 0.05)).collect();
        let test = swing_test(&rubbing).expect("a test");
        assert!(test.statistic > test.limit && (test.loss - 0.05).abs() < 1e-9, "{test:?}");
        let viscous: Vec<Vec<f64>> = [1.0, 0.8, 1.3].iter().map(|a| swings(*a, 0.75, 0.0)).collect();
        let test = swing_test(&viscous).expect("a test");
        assert!(test.statistic < test.limit && test.loss.abs() < 1e-9, "{test:?}");
    }

    #[test]
    fn tops_of_a_decaying_sine() {
        let samples: Vec<f64> = (0..200)
            .map(|n| f64::from(n) / 24.0)
            .map(|t| (-0.3 * t).exp() * (std::f64::consts::TAU * t + 0.4).sin())
            .collect();
        let tops = half_swings(&samples, 0.05);
        for w in tops.windows(2) {
            // Half a period apart: e^(−0.15).
            assert!((w[1] / w[0] - 0.860708).abs() < 2e-3, "{tops:?}");
        }
        assert!(tops.len() > 10);
    }
}
