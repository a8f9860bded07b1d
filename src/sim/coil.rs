//! A voice coil in iron: the lossy impedance K(jω)^n built from resistors and inductors.
//!
//! (jω)^n with 0 < n < 1 has no finite network, but it is an integral over first-order sections,
//! s^n = sin(nπ)/π ∫₀^∞ x^(n−1) s/(s+x) dx (any table of Stieltjes transforms). In u = ln x the integrand is analytic
//! in a strip of half width π/2 (for s = jω), so the trapezoidal rule of step h errs by about 2 exp(−π²/h) only.
//! The terms that the finite ladder leaves out are geometric series and are lumped: those of very high pole into a
//! series inductance, those of very low pole into one more section.
use serde::{Deserialize, Serialize};

use crate::math::fft::Complex64;

/// R-L sections of the ladder.
pub const SECTIONS: usize = 16;
/// Pole of the lowest regular section.
const LOWEST_POLE_HZ: f64 = 0.5;
/// Pole of the highest section.
const HIGHEST_POLE_HZ: f64 = 1_500_000.0;

/// The lossy inductance that a coil is made to follow: K(jω)^n.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct FractionalInductance {
    /// K in Ω·sⁿ.
    pub k_ohm_s_n: f64,
    /// Exponent, above 0 and below 1.
    pub n: f64,
}

impl FractionalInductance {
    /// K(jω)^n in Ω.
    pub fn impedance_ohm(&self, frequency_hz: f64) -> Complex64 {
        let omega = std::f64::consts::TAU * frequency_hz;
        Complex64::from_polar(self.k_ohm_s_n * omega.powf(self.n), self.n * std::f64::consts::FRAC_PI_2)
    }
}

/// One resistor in parallel with one inductor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Resistance in Ω.
    pub r_ohm: f64,
    /// Inductance in H.
    pub l_h: f64,
}

/// A series inductance and a row of R‖L sections.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// Series inductance in H; also what makes the coil current a state.
    pub series_l_h: f64,
    /// The sections.
    pub sections: [Section; SECTIONS],
}

impl Ladder {
    /// The ladder that follows a target.
    pub fn following(target: &FractionalInductance) -> Ladder {
        let tau = std::f64::consts::TAU;
        let n = target.n;
        let regular = SECTIONS - 1;
        let (low, high) = ((tau * LOWEST_POLE_HZ).ln(), (tau * HIGHEST_POLE_HZ).ln());
        let h = (high - low) / (regular - 1) as f64;
        let scale = target.k_ohm_s_n * (n * std::f64::consts::PI).sin() / std::f64::consts::PI * h;
        let mut sections = [Section { r_ohm: 0.0, l_h: 0.0 }; SECTIONS];
        for (k, section) in sections[1..].iter_mut().enumerate() {
            let pole = (low + h * k as f64).exp();
            let r_ohm = scale * pole.powf(n);
            *section = Section { r_ohm, l_h: r_ohm / pole };
        }
        sections[0] = lumped_low_sections(scale, n, low, h);
        // Σ over all poles above the last: s/(s+x) ≈ s/x, a geometric series of ratio exp(h(n−1)).
        let ratio = (h * (n - 1.0)).exp();
        let series_l_h = scale * (high * (n - 1.0)).exp() * ratio / (1.0 - ratio);
        Ladder { series_l_h, sections }
    }

    /// Impedance of the ladder in Ω.
    pub fn impedance_ohm(&self, frequency_hz: f64) -> Complex64 {
        let s = Complex64::new(0.0, std::f64::consts::TAU * frequency_hz);
        let parts = self.sections.iter().map(|p| s * p.l_h * p.r_ohm / (s * p.l_h + p.r_ohm));
        parts.sum::<Complex64>() + s * self.series_l_h
    }

    /// Largest relative distance from the target between two frequencies, on 200 log-spaced points.
    pub fn largest_relative_error(&self, target: &FractionalInductance, low_hz: f64, high_hz: f64) -> f64 {
        let points = 200;
        (0..points)
            .map(|i| low_hz * (high_hz / low_hz).powf(i as f64 / (points - 1) as f64))
            .map(|f| {
                let wanted = target.impedance_ohm(f);
                (self.impedance_ohm(f) - wanted).norm() / wanted.norm()
            })
            .fold(0.0, f64::max)
    }
}

/// All sections below the regular ones as one: equal in the first two terms of their expansion in x/s.
fn lumped_low_sections(scale: f64, n: f64, low: f64, h: f64) -> Section {
    let geometric = |p: f64| ((low - h) * p).exp() / (1.0 - (-h * p).exp());
    let r_ohm = scale * geometric(n);
    let pole = geometric(n + 1.0) / geometric(n);
    Section { r_ohm, l_h: r_ohm / pole }
}
