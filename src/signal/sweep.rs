//! Synchronized exponential sweep: sin(2π f₁ L e^(t/L)), L = T / ln(f₂/f₁).
//!
//! In this form harmonic n is the sweep itself, earlier by L ln n and in step with it, for any L (Farina, AES 108th
//! Convention 2000; Novák, Lotton, Simon, JAES 63(10) 2015). Where f₁L is a whole number it also starts at zero phase
//! (Novák, Simon, Kadlec, Lotton, IEEE TIM 2010). A sweep to be repeated runs through a whole number of cycles instead,
//! so that its end joins its beginning: 2πL(f₂ − f₁) is a multiple of 2π.
//! Valid for 0 < f₁ < f₂; lengths in seconds, frequencies in hertz.

use std::f64::consts::PI;

/// An exponential sweep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Frequency at the beginning.
    pub low_hz: f64,
    /// Frequency at the end.
    pub high_hz: f64,
    /// Length.
    pub length_s: f64,
}

impl Sweep {
    /// The sweep of about this length that starts at zero phase: f₁L is rounded, the length follows.
    pub fn starting_at_zero(low_hz: f64, high_hz: f64, about_s: f64) -> Self {
        let ratio = (high_hz / low_hz).ln();
        let cycles = (low_hz * about_s / ratio).round().max(1.0);
        Sweep { low_hz, high_hz, length_s: cycles * ratio / low_hz }
    }

    /// The sweep of exactly this length that repeats without a seam: the highest frequency is lowered as little as needed
    /// (by less than ln(f₂/f₁)/T) for a whole number of cycles. Needs at least two cycles.
    pub fn repeating(low_hz: f64, high_hz: f64, length_s: f64) -> Self {
        let wanted = Sweep { low_hz, high_hz, length_s };
        let cycles = (wanted.cycles() + 1e-9).floor();
        let mut sweep = wanted;
        // Newton on cycles(f₂) = T (f₂ − f₁)/ln(f₂/f₁), which is smooth and rises; four steps reach the last bit.
        for _ in 0..8 {
            let ratio = (sweep.high_hz / low_hz).ln();
            let slope = length_s * (ratio - 1.0 + low_hz / sweep.high_hz) / (ratio * ratio);
            sweep.high_hz -= (sweep.cycles() - cycles) / slope;
        }
        sweep
    }

    /// L: the time in which the frequency grows by e.
    pub fn time_constant_s(&self) -> f64 {
        self.length_s / (self.high_hz / self.low_hz).ln()
    }

    /// Cycles from beginning to end.
    pub fn cycles(&self) -> f64 {
        self.time_constant_s() * (self.high_hz - self.low_hz)
    }

    /// By how much harmonic `order` comes before the fundamental once the sweep is folded away: L ln n.
    pub fn harmonic_lead_s(&self, order: u32) -> f64 {
        self.time_constant_s() * f64::from(order).ln()
    }

    /// Value at a time from the beginning, amplitude 1.
    pub fn at(&self, time_s: f64) -> f64 {
        let l = self.time_constant_s();
        let cycles = self.low_hz * l * (time_s / l).exp();
        (2.0 * PI * cycles.fract()).sin()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_repeating_sweep_ends_in_the_phase_it_began_with() {
        for (low, high, length) in [(5.0, 20_000.0, 1.0), (10.0, 21_000.0, 2.0), (8.0, 200.0, 4.0)] {
            let sweep = Sweep::repeating(low, high, length);
            assert!((sweep.cycles() - sweep.cycles().round()).abs() < 1e-8, "{sweep:?}");
            assert!(sweep.high_hz <= high && high - sweep.high_hz < (high / low).ln() / length * 1.2);
            // The phase is known to 1e-8 cycles, so the values agree to 2π times that.
            assert!((sweep.at(length) - sweep.at(0.0)).abs() < 1e-6);
        }
    }

    #[test]
    fn harmonics_are_the_sweep_itself_earlier() {
        let sweep = Sweep { low_hz: 20.0, high_hz: 2000.0, length_s: 3.0 };
        let l = sweep.time_constant_s();
        for t in [0.1, 0.7, 1.3] {
            // sin(3φ(t)) is the sweep at t + L ln 3, whatever L is.
            let third = (3.0 * 2.0 * PI * 20.0 * l * (t / l).exp()).sin();
            assert!((third - sweep.at(t + sweep.harmonic_lead_s(3))).abs() < 1e-9);
        }
    }
}
