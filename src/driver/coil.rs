//! Impedance of the voice coil (without its resistance to direct current): three models.
//!
//! `inductance` jωL; `semi_inductance` K(jω)^n, which loses power in the iron; `two_inductances` jωL + jωL₂ ‖ R₂.
//! Symbols: ω in rad/s, L and L₂ in H, R₂ in Ω, K in Ω·sⁿ, 0 < n ≤ 1. Circuit theory (check-value: R, series L and R‖L).
//! Inside a fit the parameters are logarithms (n itself excepted), so that they stay positive; K enters by the modulus
//! at [`PIVOT_HZ`], because K and n alone are almost fully correlated.

use crate::math::fft::Complex64;
use serde::{Deserialize, Serialize};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Frequency at which a fit carries the modulus of K(jω)^n, in Hz.
pub const PIVOT_HZ: f64 = 1000.0;

/// Which voice-coil model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum CoilModel {
    /// One inductance.
    Inductance,
    /// K(jω)^n.
    SemiInductance,
    /// L in series with L₂ ‖ R₂.
    TwoInductances,
}

impl CoilModel {
    /// Every model, simplest first.
    pub const ALL: [CoilModel; 3] = [CoilModel::Inductance, CoilModel::SemiInductance, CoilModel::TwoInductances];

    /// Number of free parameters.
    pub fn parameter_count(self) -> usize {
        match self {
            CoilModel::Inductance => 1,
            CoilModel::SemiInductance => 2,
            CoilModel::TwoInductances => 3,
        }
    }

    /// Name as in a setup.
    pub fn name(self) -> &'static str {
        match self {
            CoilModel::Inductance => "inductance",
            CoilModel::SemiInductance => "semi_inductance",
            CoilModel::TwoInductances => "two_inductances",
        }
    }
}

/// A voice coil with its values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Coil {
    /// jωL.
    Inductance {
        /// Inductance in H.
        l_e_h: f64,
    },
    /// K(jω)^n.
    SemiInductance {
        /// Factor in Ω·sⁿ.
        k_ohm_s_n: f64,
        /// Exponent, 0 to 1.
        n: f64,
    },
    /// jωL + jωL₂ ‖ R₂.
    TwoInductances {
        /// Series inductance in H.
        l_e_h: f64,
        /// Inductance bridged by the resistor, in H.
        l_2_h: f64,
        /// Bridging resistor in Ω.
        r_2_ohm: f64,
    },
}

impl Coil {
    /// The model that these values belong to.
    pub fn model(&self) -> CoilModel {
        match self {
            Coil::Inductance { .. } => CoilModel::Inductance,
            Coil::SemiInductance { .. } => CoilModel::SemiInductance,
            Coil::TwoInductances { .. } => CoilModel::TwoInductances,
        }
    }

    /// Impedance in Ω at ω rad/s, ω above 0.
    pub fn impedance(&self, omega: f64) -> Complex64 {
        match *self {
            Coil::Inductance { l_e_h } => Complex64::new(0.0, omega * l_e_h),
            Coil::SemiInductance { k_ohm_s_n, n } => Complex64::from_polar(k_ohm_s_n * omega.powf(n), n * FRAC_PI_2),
            Coil::TwoInductances { l_e_h, l_2_h, r_2_ohm } => {
                let x = Complex64::new(0.0, omega * l_2_h);
                Complex64::new(0.0, omega * l_e_h) + x * r_2_ohm / (x + r_2_ohm)
            }
        }
    }

    /// [`Coil::impedance`], and its derivatives by the fit's parameters, written to the front of `out`.
    pub fn derivatives(&self, omega: f64, out: &mut [Complex64]) -> Complex64 {
        let z = self.impedance(omega);
        match *self {
            Coil::Inductance { .. } => out[0] = z,
            Coil::SemiInductance { .. } => {
                out[0] = z;
                out[1] = z * Complex64::new((omega / (TAU * PIVOT_HZ)).ln(), FRAC_PI_2);
            }
            Coil::TwoInductances { l_e_h, l_2_h, r_2_ohm } => {
                let x = Complex64::new(0.0, omega * l_2_h);
                let sum = x + r_2_ohm;
                out[0] = Complex64::new(0.0, omega * l_e_h);
                out[1] = x * r_2_ohm * r_2_ohm / (sum * sum);
                out[2] = x * x * r_2_ohm / (sum * sum);
            }
        }
        z
    }

    /// The fit's parameters: ln L; ln |K(jω)^n| at the pivot and n; or ln L, ln L₂, ln R₂.
    pub fn parameters(&self) -> Vec<f64> {
        match *self {
            Coil::Inductance { l_e_h } => vec![l_e_h.ln()],
            Coil::SemiInductance { k_ohm_s_n, n } => vec![k_ohm_s_n.ln() + n * (TAU * PIVOT_HZ).ln(), n],
            Coil::TwoInductances { l_e_h, l_2_h, r_2_ohm } => vec![l_e_h.ln(), l_2_h.ln(), r_2_ohm.ln()],
        }
    }

    /// The coil that belongs to the fit's parameters (as many as [`CoilModel::parameter_count`]).
    pub fn from_parameters(model: CoilModel, p: &[f64]) -> Coil {
        match model {
            CoilModel::Inductance => Coil::Inductance { l_e_h: p[0].exp() },
            CoilModel::SemiInductance => {
                Coil::SemiInductance { k_ohm_s_n: (p[0] - p[1] * (TAU * PIVOT_HZ).ln()).exp(), n: p[1] }
            }
            CoilModel::TwoInductances => {
                Coil::TwoInductances { l_e_h: p[0].exp(), l_2_h: p[1].exp(), r_2_ohm: p[2].exp() }
            }
        }
    }

    /// Values by the names that a reading uses, SI.
    pub fn named_values(&self) -> Vec<(&'static str, f64)> {
        match *self {
            Coil::Inductance { l_e_h } => vec![("l_e_h", l_e_h)],
            Coil::SemiInductance { k_ohm_s_n, n } => vec![("k_ohm_s_n", k_ohm_s_n), ("n", n)],
            Coil::TwoInductances { l_e_h, l_2_h, r_2_ohm } => {
                vec![("l_e_h", l_e_h), ("l_2_h", l_2_h), ("r_2_ohm", r_2_ohm)]
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check value from circuit theory: R 6 Ω, L 0.25 mH, R₂ 12 Ω, L₂ 0.9 mH at 1 and 10 kHz. Six digits printed,
    /// so half a unit of the last one decides.
    #[test]
    fn two_inductances_as_by_circuit_theory() {
        let coil = Coil::TwoInductances { l_e_h: 0.25e-3, l_2_h: 0.9e-3, r_2_ohm: 12.0 };
        for (hz, re, im) in [(1e3, 8.18056, 6.19810), (1e4, 17.4829, 18.1447)] {
            let z = coil.impedance(TAU * hz) + 6.0;
            assert!((z.re - re).abs() < 5.1e-5 && (z.im - im).abs() < 5.1e-5, "{z}");
        }
    }

    #[test]
    fn parameters_lead_back_to_the_coil() {
        for coil in [
            Coil::Inductance { l_e_h: 7e-4 },
            Coil::SemiInductance { k_ohm_s_n: 0.02, n: 0.65 },
            Coil::TwoInductances { l_e_h: 2e-4, l_2_h: 9e-4, r_2_ohm: 12.0 },
        ] {
            let back = Coil::from_parameters(coil.model(), &coil.parameters());
            // Exponential of a logarithm: a few units in the last place of numbers up to about 10.
            let (a, b) = (back.impedance(5e3), coil.impedance(5e3));
            assert!((a - b).norm() < 1e-13 * b.norm());
        }
    }
}
