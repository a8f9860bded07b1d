//! The reading by three frequencies that handbooks give, from a measured curve.
//!
//! Z_max with its frequency, and f₁ < f₂ where the modulus is √(R_e Z_max):
//! f_s = √(f₁f₂), r₀ = Z_max/R_e, Q_ms = f_s √r₀/(f₂ − f₁), Q_es = Q_ms/(r₀ − 1), Q_ts = Q_ms/r₀ (Small 1972, from
//! memory). Exact without a voice coil; with one it leans by a few per cent, which is why it only stands beside the fit.

use crate::electrical::impedance::ImpedancePoint;

/// Result of the reading by three frequencies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThreeFrequencies {
    /// √(f₁f₂) in Hz.
    pub f_s_hz: f64,
    /// Mechanical quality factor.
    pub q_ms: f64,
    /// Electrical quality factor.
    pub q_es: f64,
    /// Total quality factor.
    pub q_ts: f64,
    /// Greatest modulus in Ω.
    pub z_max_ohm: f64,
    /// Lower frequency of modulus √(R_e Z_max) in Hz.
    pub f_1_hz: f64,
    /// Upper frequency of modulus √(R_e Z_max) in Hz.
    pub f_2_hz: f64,
}

/// The formulas: from f₁, f₂ in Hz, R_e and Z_max in Ω. None unless f₂ > f₁ > 0 and Z_max > R_e > 0.
pub fn from_frequencies(f_1_hz: f64, f_2_hz: f64, r_e_ohm: f64, z_max_ohm: f64) -> Option<ThreeFrequencies> {
    if !(f_1_hz > 0.0 && f_2_hz > f_1_hz && r_e_ohm > 0.0 && z_max_ohm > r_e_ohm) {
        return None;
    }
    let ratio = z_max_ohm / r_e_ohm;
    let f_s_hz = (f_1_hz * f_2_hz).sqrt();
    let q_ms = f_s_hz * ratio.sqrt() / (f_2_hz - f_1_hz);
    Some(ThreeFrequencies { f_s_hz, q_ms, q_es: q_ms / (ratio - 1.0), q_ts: q_ms / ratio, z_max_ohm, f_1_hz, f_2_hz })
}

/// Reads a curve (rising frequency) whose peak stands at index `peak`, with R_e in Ω. None where the curve does not
/// fall to √(R_e Z_max) on both sides.
pub fn from_curve(points: &[ImpedancePoint], peak: usize, r_e_ohm: f64) -> Option<ThreeFrequencies> {
    let z_max_ohm = parabolic_maximum(points, peak)?;
    let level = (r_e_ohm * z_max_ohm).sqrt();
    let below = |i: usize| points[i].z_ohm.norm() < level;
    let lower = (0..peak).rev().find(|&i| below(i))?;
    let upper = (peak + 1..points.len()).find(|&i| below(i))?;
    let f_1_hz = crossing_hz(&points[lower], &points[lower + 1], level);
    let f_2_hz = crossing_hz(&points[upper - 1], &points[upper], level);
    from_frequencies(f_1_hz, f_2_hz, r_e_ohm, z_max_ohm)
}

/// Modulus at the top of the parabola through the peak and its neighbours, over the logarithm of frequency.
fn parabolic_maximum(points: &[ImpedancePoint], peak: usize) -> Option<f64> {
    let middle = points.get(peak)?.z_ohm.norm();
    let (Some(left), Some(right)) = (peak.checked_sub(1).and_then(|i| points.get(i)), points.get(peak + 1)) else {
        return Some(middle);
    };
    let x = |p: &ImpedancePoint| (p.frequency_hz / points[peak].frequency_hz).ln();
    let (a, b) = (x(left), x(right));
    let (left_slope, right_slope) = ((left.z_ohm.norm() - middle) / a, (right.z_ohm.norm() - middle) / b);
    let curvature = (right_slope - left_slope) / (b - a);
    let slope = left_slope - curvature * a;
    Some(if curvature < 0.0 { middle - 0.25 * slope * slope / curvature } else { middle })
}

/// Where the modulus crosses `level` between two points; straight over the logarithms.
fn crossing_hz(a: &ImpedancePoint, b: &ImpedancePoint, level: f64) -> f64 {
    let (u, v) = ((a.z_ohm.norm() / level).ln(), (b.z_ohm.norm() / level).ln());
    let share = if u == v { 0.5 } else { u / (u - v) };
    (a.frequency_hz.ln() + share * (b.frequency_hz / a.frequency_hz).ln()).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::driver::coil::Coil;
    use crate::driver::equivalent_circuit::Circuit;

    /// Small 1972 (from memory), worked: R_e 6, Z_max 54, f₁ 22.0, f₂ 35.6. Half a unit of the last printed digit.
    #[test]
    fn worked_example() {
        let reading = from_frequencies(22.0, 35.6, 6.0, 54.0).unwrap();
        assert!((reading.f_s_hz - 27.9857).abs() < 5.1e-5);
        assert!((reading.q_ms - 6.17332).abs() < 5.1e-6);
        assert!((reading.q_es - 0.771665).abs() < 5.1e-7);
        assert!((reading.q_ts - 0.685924).abs() < 5.1e-7);
        assert!(from_frequencies(30.0, 20.0, 6.0, 54.0).is_none());
    }

    /// Without a coil the reading is exact; what is left is the interpolation between lines 0.5 % apart, second order
    /// in the spacing: (0.005·Q)²/8 ≈ 1e-4 of the curve.
    #[test]
    fn exact_on_a_curve_without_coil() {
        let coil = Coil::Inductance { l_e_h: 1e-9 };
        let circuit = Circuit { f_s_hz: 40.0, q_ms: 5.0, q_es: 0.5, r_e_ohm: 6.0, coil, creep: None };
        let points: Vec<ImpedancePoint> = (0..600)
            .map(|i| 10.0 * 1.005f64.powi(i))
            .map(|hz| ImpedancePoint { frequency_hz: hz, z_ohm: circuit.impedance(hz), variance_ohm2: 0.0 })
            .collect();
        let peak = (0..600).max_by(|&a, &b| points[a].z_ohm.norm().total_cmp(&points[b].z_ohm.norm())).unwrap();
        let reading = from_curve(&points, peak, 6.0).unwrap();
        assert!((reading.f_s_hz / 40.0 - 1.0).abs() < 2e-4 && (reading.q_ms / 5.0 - 1.0).abs() < 1e-3, "{reading:?}");
        assert!((reading.q_es / 0.5 - 1.0).abs() < 1e-3 && (reading.z_max_ohm / 66.0 - 1.0).abs() < 2e-4);
    }
}
