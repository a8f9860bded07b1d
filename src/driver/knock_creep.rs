//! From a free motion to what a steady tone would show: the suspension's creep between the two.
//!
//! A suspension creeps: its stiffness rises by a constant part λ a decade of frequency, K(s) = k (1 + c ln(s/ω_s)) with
//! c = λ/ln 10 (logarithmic creep; Knudsen and Jensen, JAES 1993, from memory). At a real frequency that is a loss of cπ/2
//! beside the viscous one; for a decaying motion, s off the axis, pitch and loss come out slightly larger. f_s and Q_ms are
//! defined at real frequency (zero phase of the motional part, total loss there), so the pole is led back to it:
//! s² + rs + ω_s²(1 + c ln(s/ω_s)) = 0 is solved for ω_s and r, then 1/Q = r/ω_s + cπ/2.
//! Size: for λ 4 % and Q 5, 0.13 % in f_s and 0.9 % in Q. Valid for λ below 0.3.

use std::f64::consts::{FRAC_PI_2, LN_10, TAU};

/// Frequency in Hz and Q at real frequency from those of the free motion (|s|/2π and |s|/(2α)).
pub(super) fn steady_from_free(f_hz: f64, q: f64, creep_per_decade: f64) -> (f64, f64) {
    let c = creep_per_decade / LN_10;
    let size = TAU * f_hz;
    let alpha = size / (2.0 * q);
    let omega = (size * size - alpha * alpha).max(0.0).sqrt();
    let angle = omega.atan2(-alpha);
    let (re_square, im_square) = (alpha * alpha - omega * omega, -2.0 * alpha * omega);
    let mut omega_s = size;
    let mut r = 2.0 * alpha;
    for _ in 0..20 {
        r = -(im_square + omega_s * omega_s * c * angle) / omega;
        omega_s = ((r * alpha - re_square) / (1.0 + c * (size / omega_s).ln())).max(0.0).sqrt();
    }
    (omega_s / TAU, 1.0 / (r / omega_s + c * FRAC_PI_2))
}

/// Creep from the Q with and without a weight: the viscous loss falls with the frequency, creep's does not.
/// Arguments: free motions (frequency, Q) without and with the weight. None where nothing can be told.
pub(super) fn creep_from_weight(bare: (f64, f64), weighted: (f64, f64)) -> Option<f64> {
    let mut creep = 0.0;
    for _ in 0..20 {
        let (f, q) = steady_from_free(bare.0, bare.1, creep);
        let (f_w, q_w) = steady_from_free(weighted.0, weighted.1, creep);
        // Viscous 1/Q = R ω/k; the stiffness itself is softer at the lower frequency.
        let softer = 1.0 - creep * (f / f_w).log10();
        let ratio = f_w / f / softer;
        if ratio > 0.97 {
            return None;
        }
        let loss = (1.0 / q_w - ratio / q) / (1.0 / softer - ratio);
        let next = loss * LN_10 / FRAC_PI_2;
        if (next - creep).abs() < 1e-9 {
            break;
        }
        creep = next.clamp(-0.3, 0.3);
    }
    creep.is_finite().then_some(creep)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::fft::Complex64;

    /// Pole of M s² + R s + K(s) by Newton's method, M = 1.
    fn pole(omega_s: f64, viscous: f64, c: f64) -> (f64, f64) {
        let mut s = Complex64::new(-0.1 * omega_s, omega_s);
        for _ in 0..50 {
            let k = (Complex64::new(1.0, 0.0) + (s / omega_s).ln() * c) * omega_s * omega_s;
            let value = s * s + s * viscous + k;
            let slope = s * 2.0 + viscous + Complex64::new(c * omega_s * omega_s, 0.0) / s;
            s -= value / slope;
        }
        (s.norm() / TAU, s.norm() / (-2.0 * s.re))
    }

    #[test]
    fn leads_the_pole_of_a_creeping_suspension_back_to_the_axis() {
        let (omega_s, viscous, c) = (TAU * 30.0, 25.0, 0.05 / LN_10);
        let (f, q) = pole(omega_s, viscous, c);
        let (f_s, q_s) = steady_from_free(f, q, 0.05);
        assert!((f_s - 30.0).abs() < 1e-9, "{f_s}");
        assert!((1.0 / q_s - viscous / omega_s - c * FRAC_PI_2).abs() < 1e-10, "{q_s}");
        // Without creep nothing changes.
        let (f, q) = steady_from_free(30.0, 5.0, 0.0);
        assert!((f - 30.0).abs() < 1e-12 && (q - 5.0).abs() < 1e-12);
    }

    #[test]
    fn tells_creep_from_two_masses() {
        let (k, loss, c) = (2000.0_f64, 1.5, 0.04 / LN_10);
        // With mass 1.6 times, the stiffness at the lower resonance is that of the creep law.
        let bare_omega = (k / 0.06).sqrt();
        let mut low = bare_omega / 1.6_f64.sqrt();
        for _ in 0..50 {
            low = (k * (1.0 + c * (low / bare_omega).ln()) / (0.06 * 1.6)).sqrt();
        }
        let k_low = 1.0 + c * (low / bare_omega).ln();
        let found = creep_from_weight(pole(bare_omega, loss / 0.06, c), pole(low, loss / 0.096, c / k_low));
        // The law's own change of c between the two frequencies is of second order: 0.4 % of λ.
        assert!((found.expect("a creep") - 0.04).abs() < 0.0005, "{found:?}");
    }
}
