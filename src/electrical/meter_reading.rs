//! From two voltages at one frequency to the impedance that they speak of.
//!
//! The driver Z and a resistor R in series, one voltage V_d across Z and the other either V_r across R or V_s across
//! both. The same current flows in both, so V_d/V_r = |Z|/R, whatever the phase. V_d/V_s = |Z|/|Z + R| = h depends on
//! the phase φ of Z: |Z|²(1 − h²) − 2R h²|Z| cos φ − h²R² = 0, with one positive root for h below 1 (circuit theory).
//! A fit compares ln(V_d/V_r) or ln h with the circuit's, where the phase is known; only a single point needs φ given.

use crate::math::fft::Complex64;
use serde::{Deserialize, Serialize};

/// What the meter read at one frequency: the driver's volts and one of the two others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct MeterReading {
    /// Frequency of the tone in Hz.
    pub frequency_hz: f64,
    /// Volts across driver and resistor together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub source_v: Option<f64>,
    /// Volts across the driver.
    pub driver_v: f64,
    /// Volts across the resistor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub resistor_v: Option<f64>,
}

/// Across what the second voltage was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Across {
    /// The resistor.
    Resistor,
    /// Driver and resistor together.
    Both,
}

impl MeterReading {
    /// Across what the second voltage was read.
    pub fn across(&self) -> Across {
        match self.resistor_v {
            Some(_) => Across::Resistor,
            None => Across::Both,
        }
    }

    /// The second voltage in V.
    pub fn other_v(&self) -> f64 {
        self.resistor_v.or(self.source_v).unwrap_or(f64::NAN)
    }

    /// The same reading with other volts.
    pub fn with(&self, driver_v: f64, other_v: f64) -> MeterReading {
        let of = |was: Option<f64>| was.map(|_| other_v);
        MeterReading { driver_v, source_v: of(self.source_v), resistor_v: of(self.resistor_v), ..*self }
    }

    /// ln of the driver's volts over the other ones.
    pub fn log_ratio(&self) -> f64 {
        (self.driver_v / self.other_v()).ln()
    }

    /// Modulus in Ω for the phase given in rad; none where no impedance divides the volts like this.
    pub fn magnitude_ohm(&self, r_ohm: f64, phase_rad: f64) -> Option<f64> {
        let ratio = self.driver_v / self.other_v();
        if self.across() == Across::Resistor {
            return Some(r_ohm * ratio);
        }
        let (square, cos) = (ratio * ratio, phase_rad.cos());
        let root = square * cos * cos + 1.0 - square;
        let magnitude = r_ohm * ratio * (ratio * cos + root.max(0.0).sqrt()) / (1.0 - square);
        (magnitude.is_finite() && magnitude > 0.0).then_some(magnitude)
    }
}

/// What [`MeterReading::log_ratio`] would be for an impedance of `z_ohm` and a resistor of `r_ohm`.
pub fn log_ratio_of(across: Across, z_ohm: Complex64, r_ohm: f64) -> f64 {
    match across {
        Across::Resistor => (z_ohm.norm() / r_ohm).ln(),
        Across::Both => (z_ohm.norm() / (z_ohm + r_ohm).norm()).ln(),
    }
}

/// Its slopes: the factor s with d(ln ratio) = Re(s dZ), and the slope by ln R.
pub fn log_ratio_slopes(across: Across, z_ohm: Complex64, r_ohm: f64) -> (Complex64, f64) {
    match across {
        Across::Resistor => (1.0 / z_ohm, -1.0),
        Across::Both => {
            let together = 1.0 / (z_ohm + r_ohm);
            (1.0 / z_ohm - together, -(r_ohm * together).re)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(z: Complex64, r: f64, across: Across) -> MeterReading {
        let current = 0.02;
        let mut out =
            MeterReading { frequency_hz: 50.0, driver_v: current * z.norm(), source_v: None, resistor_v: None };
        match across {
            Across::Resistor => out.resistor_v = Some(current * r),
            Across::Both => out.source_v = Some(current * (z + r).norm()),
        }
        out
    }

    /// 6 + 8j Ω and 10 Ω: V_d/V_r = 1; V_s over the current is |16 + 8j| = √320.
    #[test]
    fn both_wirings_give_the_impedance_back() {
        let z = Complex64::new(6.0, 8.0);
        for across in [Across::Resistor, Across::Both] {
            let r = reading(z, 10.0, across);
            let ohm = r.magnitude_ohm(10.0, z.arg()).expect("an impedance");
            assert!((ohm - 10.0).abs() < 1e-12, "{ohm}");
            assert!((r.log_ratio() - log_ratio_of(across, z, 10.0)).abs() < 1e-14);
        }
        let source = reading(z, 10.0, Across::Both).source_v.expect("volts");
        assert!((source - 0.02 * 320f64.sqrt()).abs() < 1e-15);
        // More volts across a part than across the whole: nothing passive does it.
        assert_eq!(reading(z, 10.0, Across::Both).with(1.0, 0.5).magnitude_ohm(10.0, 0.0), None);
    }

    /// Central differences with a step of 1e-6 of the value: second-order error 1e-12, rounding 1e-10.
    #[test]
    fn slopes_are_those_of_the_ratio() {
        let (z, r, step) = (Complex64::new(7.0, -12.0), 9.0, 1e-6);
        for across in [Across::Resistor, Across::Both] {
            let (by_z, by_ln_r) = log_ratio_slopes(across, z, r);
            for direction in [Complex64::new(1.0, 0.0), Complex64::i()] {
                let moved = |by: f64| log_ratio_of(across, z + direction * by, r);
                let numeric = (moved(step) - moved(-step)) / (2.0 * step);
                assert!((numeric - (by_z * direction).re).abs() < 1e-8);
            }
            let moved = |by: f64| log_ratio_of(across, z, r * (1.0 + by));
            assert!(((moved(step) - moved(-step)) / (2.0 * step) - by_ln_r).abs() < 1e-8);
        }
    }
}
