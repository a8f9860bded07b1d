//! Where a fit of the equivalent circuit begins: the peak, the reading by three frequencies, the rise of the coil.

use super::coil::{Coil, CoilModel};
use super::equivalent_circuit::{Circuit, CircuitModel};
use super::three_frequency;
use crate::electrical::impedance::{gather, ImpedancePoint};
use std::f64::consts::TAU;

/// The resonance as it stands in a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Frequency of the greatest modulus, in Hz.
    pub frequency_hz: f64,
    /// Greatest modulus in Ω.
    pub magnitude_ohm: f64,
    /// Lowest modulus on the lower side of the peak, in Ω.
    pub valley_below_ohm: f64,
    /// Lowest modulus on the upper side, in Ω.
    pub valley_above_ohm: f64,
    /// Frequency of the lowest modulus on the upper side, in Hz.
    pub valley_above_hz: f64,
}

impl Peak {
    /// How far the peak stands above the higher of the two valleys, as a ratio of moduli.
    pub fn prominence(&self) -> f64 {
        self.magnitude_ohm / self.valley_below_ohm.max(self.valley_above_ohm)
    }
}

/// Finds the most prominent maximum of the modulus; none where it only rises, only falls or is flat.
/// `points` in rising frequency.
pub fn find_peak(points: &[ImpedancePoint]) -> Option<Peak> {
    // A third of a semitone smooths noise but no resonance of a driver (Q_ms below 20 is 5 % wide).
    let smooth = gather(points, |hz| 0.02 * hz);
    let modulus: Vec<f64> = smooth.iter().map(|p| p.z_ohm.norm()).collect();
    let inner = 1..modulus.len().saturating_sub(1);
    inner
        .filter(|&i| modulus[i] >= modulus[i - 1] && modulus[i] > modulus[i + 1])
        .map(|i| describe(&smooth, &modulus, i))
        .max_by(|a, b| a.prominence().total_cmp(&b.prominence()))
}

/// The peak at index i with the valleys down to which it can be followed before something higher comes.
fn describe(smooth: &[ImpedancePoint], modulus: &[f64], i: usize) -> Peak {
    let below = (0..i).rev().take_while(|&k| modulus[k] <= modulus[i]);
    let above = (i + 1..modulus.len()).take_while(|&k| modulus[k] <= modulus[i]);
    let lowest = |a: usize, b: usize| if modulus[b] < modulus[a] { b } else { a };
    let (low, high) = (below.fold(i, lowest), above.fold(i, lowest));
    Peak {
        frequency_hz: smooth[i].frequency_hz,
        magnitude_ohm: modulus[i],
        valley_below_ohm: modulus[low],
        valley_above_ohm: modulus[high],
        valley_above_hz: smooth[high].frequency_hz,
    }
}

/// First guess of a circuit from a curve and its peak.
pub fn first_guess(points: &[ImpedancePoint], peak: &Peak, model: CircuitModel) -> Circuit {
    let r_e_ohm = 0.95 * peak.valley_above_ohm.min(peak.valley_below_ohm);
    let index = nearest(points, peak.frequency_hz);
    let by_three = three_frequency::from_curve(points, index, r_e_ohm);
    let ratio = (peak.magnitude_ohm / r_e_ohm).max(1.05);
    let q_ms = by_three.map_or(4.0, |r| r.q_ms).clamp(0.3, 30.0);
    Circuit {
        f_s_hz: by_three.map_or(peak.frequency_hz, |r| r.f_s_hz),
        q_ms,
        q_es: q_ms / (ratio - 1.0),
        r_e_ohm,
        coil: guess_coil(points, r_e_ohm, peak, model.coil),
        creep: model.creep.then_some(0.05),
    }
}

/// Index of the point nearest in frequency.
pub fn nearest(points: &[ImpedancePoint], hz: f64) -> usize {
    let after = points.partition_point(|p| p.frequency_hz < hz);
    let before = after.saturating_sub(1);
    match points.get(after) {
        Some(p) if p.frequency_hz - hz < hz - points[before].frequency_hz => after,
        _ => before,
    }
}

/// Coil values from the reactance between the valley above the peak and the end of the curve.
fn guess_coil(points: &[ImpedancePoint], r_e_ohm: f64, peak: &Peak, model: CoilModel) -> Coil {
    let last_hz = points.last().map_or(1e4, |p| p.frequency_hz);
    let low_hz = (2.0 * peak.valley_above_hz).min(0.5 * last_hz);
    let at = |hz: f64| points[nearest(points, hz)];
    let (low, high) = (at(low_hz), at(0.8 * last_hz));
    let reactance = |p: &ImpedancePoint| p.z_ohm.im.max(0.02 * r_e_ohm);
    let inductance = |p: &ImpedancePoint| reactance(p) / (TAU * p.frequency_hz);
    match model {
        CoilModel::Inductance => Coil::Inductance { l_e_h: (inductance(&low) * inductance(&high)).sqrt() },
        CoilModel::SemiInductance => {
            let rise = (reactance(&high) / reactance(&low)).ln() / (high.frequency_hz / low.frequency_hz).ln();
            let n = rise.clamp(0.45, 0.95);
            let modulus = reactance(&high) / (n * std::f64::consts::FRAC_PI_2).sin();
            Coil::SemiInductance { k_ohm_s_n: modulus / (TAU * high.frequency_hz).powf(n), n }
        }
        CoilModel::TwoInductances => {
            let l_e_h = 0.7 * inductance(&high);
            let r_2_ohm = (high.z_ohm.re - r_e_ohm).max(0.5 * r_e_ohm);
            Coil::TwoInductances { l_e_h, l_2_h: (inductance(&low) - l_e_h).max(0.3 * l_e_h), r_2_ohm }
        }
    }
}
