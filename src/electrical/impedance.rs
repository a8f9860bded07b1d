//! An impedance curve with its uncertainty, and how lines are drawn together into fewer points.

use crate::math::fft::Complex64;

/// One point of an impedance curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ImpedancePoint {
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// Impedance in Ω.
    pub z_ohm: Complex64,
    /// Expected |error|² from noise in Ω²: real and imaginary part each hold half of it.
    pub variance_ohm2: f64,
}

impl ImpedancePoint {
    /// Standard uncertainty of the modulus in Ω (noise only).
    pub fn magnitude_standard_uncertainty_ohm(&self) -> f64 {
        (0.5 * self.variance_ohm2).sqrt()
    }
}

/// Draws neighbouring points together, weighted by their variances, into bins at most `width_hz(f)` wide.
///
/// `points` in rising frequency. A point further from the first of its bin than the width at that first one begins a
/// new bin, so single lines stay as they are where they lie further apart than the width.
pub fn gather(points: &[ImpedancePoint], width_hz: impl Fn(f64) -> f64) -> Vec<ImpedancePoint> {
    let mut out = Vec::new();
    let mut begin = 0;
    for end in 1..=points.len() {
        let first_hz = points[begin].frequency_hz;
        if end == points.len() || points[end].frequency_hz - first_hz > width_hz(first_hz) {
            out.push(merge(&points[begin..end]));
            begin = end;
        }
    }
    out
}

/// Weighted mean of points; without a known variance anywhere all count alike.
pub fn merge(points: &[ImpedancePoint]) -> ImpedancePoint {
    let known = points.iter().all(|p| p.variance_ohm2 > 0.0);
    let weight = |p: &ImpedancePoint| if known { 1.0 / p.variance_ohm2 } else { 1.0 };
    let total: f64 = points.iter().map(weight).sum();
    let frequency_hz = points.iter().map(|p| p.frequency_hz * weight(p)).sum::<f64>() / total;
    let z_ohm = points.iter().map(|p| p.z_ohm * weight(p)).sum::<Complex64>() / total;
    ImpedancePoint { frequency_hz, z_ohm, variance_ohm2: if known { 1.0 / total } else { 0.0 } }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(hz: f64, ohm: f64, variance_ohm2: f64) -> ImpedancePoint {
        ImpedancePoint { frequency_hz: hz, z_ohm: Complex64::new(ohm, 0.0), variance_ohm2 }
    }

    #[test]
    fn bins_weigh_by_variance_and_keep_lone_lines() {
        let points = [point(10.0, 5.0, 1.0), point(11.0, 8.0, 0.5), point(20.0, 6.0, 1.0)];
        let bins = gather(&points, |_| 2.0);
        assert_eq!(bins.len(), 2);
        // Weights 1 and 2: (5 + 16)/3 = 7, variance 1/3.
        assert!((bins[0].z_ohm.re - 7.0).abs() < 1e-12 && (bins[0].variance_ohm2 - 1.0 / 3.0).abs() < 1e-12);
        assert_eq!(bins[1], points[2]);
        assert!(gather(&[], |_| 1.0).is_empty());
    }
}
