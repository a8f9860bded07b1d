//! Small-signal electrical impedance of a driver in free air: R_e, voice coil and moving part, with derivatives.
//!
//! Z = R_e + Z_coil + R_es / D, R_es = R_e Q_ms / Q_es, x = f / f_s,
//! D = 1 + Q_ms (jx + κ(x)/(jx) − η).
//! Without creep κ = 1, η = 0 and D = 1 + jQ_ms (x − 1/x) (Small 1972; circuit theory).
//! With creep the stiffness is K ∝ 1/(1 − λ log₁₀(jx)) (logarithmic creep; λ dimensionless, 0.02 to 0.2 usual), scaled
//! so that its real part at f_s is 1 in κ and its loss there is η = κ''(1): f_s stays where the phase of the moving
//! part is zero, and Q_ms stays the TOTAL mechanical loss at f_s, viscous and creep together.
//! Units: Hz, Ω; Q's and λ without. Valid: f above 0 and 1 − λ log₁₀ x well above 0 (λ = 0.2: up to 1e4 f_s).

use super::coil::{Coil, CoilModel};
use crate::math::fft::Complex64;
use std::f64::consts::{FRAC_PI_2, LN_10, TAU};

/// Largest number of parameters of a fit: f_s, Q_ms, Q_es, R_e, three of a coil, creep.
pub const MOST_PARAMETERS: usize = 8;

/// Phase of a creeping stiffness at f_s for one unit of λ: (π/2)/ln 10.
const CREEP_LOSS: f64 = FRAC_PI_2 / LN_10;

/// A driver at small signals, free air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circuit {
    /// Resonance in Hz: where the phase of the moving part is zero.
    pub f_s_hz: f64,
    /// Mechanical quality factor from the total mechanical loss at f_s.
    pub q_ms: f64,
    /// Electrical quality factor.
    pub q_es: f64,
    /// Resistance to direct current, in Ω.
    pub r_e_ohm: f64,
    /// Voice coil.
    pub coil: Coil,
    /// Creep λ of the suspension; none where it is not modelled.
    pub creep: Option<f64>,
}

/// Which parts a circuit has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CircuitModel {
    /// Voice coil.
    pub coil: CoilModel,
    /// Whether the suspension creeps.
    pub creep: bool,
}

impl CircuitModel {
    /// Number of free parameters.
    pub fn parameter_count(self) -> usize {
        4 + self.coil.parameter_count() + usize::from(self.creep)
    }
}

impl Circuit {
    /// Which parts it has.
    pub fn model(&self) -> CircuitModel {
        CircuitModel { coil: self.coil.model(), creep: self.creep.is_some() }
    }

    /// Total quality factor, 1/Q_ts = 1/Q_ms + 1/Q_es.
    pub fn q_ts(&self) -> f64 {
        self.q_ms * self.q_es / (self.q_ms + self.q_es)
    }

    /// Resistance that the moving part adds at f_s, in Ω.
    pub fn r_es_ohm(&self) -> f64 {
        self.r_e_ohm * self.q_ms / self.q_es
    }

    /// Impedance in Ω at `hz` above 0.
    pub fn impedance(&self, hz: f64) -> Complex64 {
        self.coil.impedance(TAU * hz) + self.r_e_ohm + self.r_es_ohm() / self.moving_part(hz).denominator
    }

    /// Greatest modulus around f_s in Ω, with its frequency in Hz.
    pub fn peak(&self) -> (f64, f64) {
        let modulus = |ln_x: f64| self.impedance(self.f_s_hz * ln_x.exp()).norm();
        // The coil shifts the peak by far less than the half-width of the resonance.
        let ln_x = golden_maximum(modulus, -0.4, 0.4);
        (self.f_s_hz * ln_x.exp(), modulus(ln_x))
    }

    /// Share of the mechanical loss at f_s that is creep; above 1 would need a negative friction.
    pub fn creep_share_of_loss(&self) -> f64 {
        self.creep.unwrap_or(0.0) * CREEP_LOSS * self.q_ms
    }

    /// Impedance that stands for the compliance, R_es jx/(Q_ms κ), in Ω at `hz` above 0; without creep that of an inductance.
    pub fn compliance_ohm(&self, hz: f64) -> Complex64 {
        let x = hz / self.f_s_hz;
        let stiffness = self.stiffness(Complex64::new(x.ln(), FRAC_PI_2) / LN_10);
        Complex64::new(0.0, self.r_es_ohm() * x / self.q_ms) / stiffness
    }

    /// κ at log₁₀(jx) `decades` above resonance.
    fn stiffness(&self, decades: Complex64) -> Complex64 {
        let creep = self.creep.unwrap_or(0.0);
        let loss = creep * CREEP_LOSS;
        (1.0 + loss * loss) / (1.0 - decades * creep)
    }

    /// The fit's parameters: ln f_s, ln Q_ms, ln Q_es, ln R_e, the coil's, λ.
    pub fn parameters(&self) -> Vec<f64> {
        let mut p = vec![self.f_s_hz.ln(), self.q_ms.ln(), self.q_es.ln(), self.r_e_ohm.ln()];
        p.extend(self.coil.parameters());
        p.extend(self.creep);
        p
    }

    /// The circuit that belongs to the fit's parameters (as many as [`CircuitModel::parameter_count`]).
    pub fn from_parameters(model: CircuitModel, p: &[f64]) -> Circuit {
        let coil_end = 4 + model.coil.parameter_count();
        Circuit {
            f_s_hz: p[0].exp(),
            q_ms: p[1].exp(),
            q_es: p[2].exp(),
            r_e_ohm: p[3].exp(),
            coil: Coil::from_parameters(model.coil, &p[4..coil_end]),
            creep: model.creep.then(|| p[coil_end]),
        }
    }

    /// Impedance at `hz` and its derivatives by the fit's parameters, written to the front of `out`.
    pub fn impedance_with_derivatives(&self, hz: f64, out: &mut [Complex64; MOST_PARAMETERS]) -> Complex64 {
        let part = self.moving_part(hz);
        let motional = self.r_es_ohm() / part.denominator;
        let slope = -motional / part.denominator;
        // ∂/∂ln f_s = −x ∂/∂x; R_es carries ln Q_ms, −ln Q_es and ln R_e.
        out[0] = slope * -part.x_slope;
        out[1] = motional + slope * (part.denominator - 1.0);
        out[2] = -motional;
        out[3] = motional + self.r_e_ohm;
        let coil = self.coil.derivatives(TAU * hz, &mut out[4..]);
        if self.creep.is_some() {
            out[4 + self.coil.model().parameter_count()] = slope * part.creep_slope;
        }
        coil + self.r_e_ohm + motional
    }

    fn moving_part(&self, hz: f64) -> MovingPart {
        let x = hz / self.f_s_hz;
        let j = Complex64::i();
        let Some(creep) = self.creep else {
            return MovingPart {
                denominator: Complex64::new(1.0, self.q_ms * (x - 1.0 / x)),
                x_slope: Complex64::new(0.0, self.q_ms * (x + 1.0 / x)),
                creep_slope: Complex64::default(),
            };
        };
        let decades = Complex64::new(x.ln(), FRAC_PI_2) / LN_10;
        let softening = 1.0 - decades * creep;
        let loss = creep * CREEP_LOSS;
        let stiffness = self.stiffness(decades);
        // x ∂κ/∂x and ∂κ/∂λ.
        let stiffness_x = stiffness / softening * (creep / LN_10);
        let stiffness_creep = 2.0 * loss * CREEP_LOSS / softening + stiffness * decades / softening;
        MovingPart {
            denominator: 1.0 + self.q_ms * (j * x - j * stiffness / x - loss),
            x_slope: self.q_ms * (j * x + j * (stiffness - stiffness_x) / x),
            creep_slope: self.q_ms * (-j * stiffness_creep / x - CREEP_LOSS),
        }
    }
}

/// Denominator D of the moving part with x ∂D/∂x and ∂D/∂λ.
struct MovingPart {
    denominator: Complex64,
    x_slope: Complex64,
    creep_slope: Complex64,
}

/// Place of the maximum of a function with one peak between `low` and `high`, by golden section.
fn golden_maximum(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let ratio = (5f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (high - ratio * (high - low), low + ratio * (high - low));
    let (mut f_a, mut f_b) = (f(a), f(b));
    while high - low > 1e-9 {
        if f_a > f_b {
            (high, b, f_b) = (b, a, f_a);
            a = high - ratio * (high - low);
            f_a = f(a);
        } else {
            (low, a, f_a) = (a, b, f_b);
            b = low + ratio * (high - low);
            f_b = f(b);
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn woofer(coil: Coil, creep: Option<f64>) -> Circuit {
        Circuit { f_s_hz: 31.0, q_ms: 5.2, q_es: 0.36, r_e_ohm: 5.6, coil, creep }
    }

    fn coils() -> [Coil; 3] {
        [
            Coil::Inductance { l_e_h: 0.7e-3 },
            Coil::SemiInductance { k_ohm_s_n: 0.025, n: 0.66 },
            Coil::TwoInductances { l_e_h: 0.25e-3, l_2_h: 0.9e-3, r_2_ohm: 12.0 },
        ]
    }

    /// Check value derived from the definition (R_e 5.6 Ω, L_e 0.7 mH, f_s 31 Hz, Q_ms 5.2, Q_es 0.36); tolerance is
    /// half a unit of the last printed digit.
    #[test]
    fn modulus_and_phase_by_the_definition() {
        let circuit = woofer(coils()[0], None);
        for (hz, ohm, deg) in
            [(10.0, 8.20934, 43.1838), (31.0, 86.4890, 0.090324), (50.0, 17.1492, -60.1925), (1e3, 6.83549, 34.9477)]
        {
            let z = circuit.impedance(hz);
            let last = if ohm > 10.0 { 5.1e-5 } else { 5.1e-6 };
            assert!((z.norm() - ohm).abs() < last, "{} at {hz} Hz", z.norm());
            assert!((z.arg().to_degrees() - deg).abs() < 5.1e-5, "{} at {hz} Hz", z.arg().to_degrees());
        }
    }

    /// Central differences with step h err by h²/6 of the third derivative. By ln f_s that is largest: near f_s the
    /// moving part is 1/(1 + 2jQu), u = ln x, with a third derivative up to 6 (2Q)³ = 6750 times the peak, so 4.5e-9 of
    /// it at h = 2e-6; rounding adds 1e-16/h = 5e-11.
    #[test]
    fn derivatives_agree_with_finite_differences() {
        for coil in coils() {
            for creep in [None, Some(0.08)] {
                let circuit = woofer(coil, creep);
                let (model, p) = (circuit.model(), circuit.parameters());
                let scale = circuit.peak().1;
                for hz in [6.0, 25.0, 31.0, 33.0, 120.0, 9e3] {
                    let mut exact = [Complex64::default(); MOST_PARAMETERS];
                    let z = circuit.impedance_with_derivatives(hz, &mut exact);
                    assert!((z - circuit.impedance(hz)).norm() < 1e-13 * scale);
                    for (i, exact) in exact.iter().enumerate().take(p.len()) {
                        let moved = |step: f64| {
                            let mut q = p.clone();
                            q[i] += step;
                            Circuit::from_parameters(model, &q).impedance(hz)
                        };
                        let numeric = (moved(2e-6) - moved(-2e-6)) / 4e-6;
                        assert!((numeric - exact).norm() < 1e-8 * scale, "{model:?} p{i} {hz} Hz {numeric} {exact}");
                    }
                }
            }
        }
    }

    /// The definition of f_s and Q_ms with creep: at f_s the moving part is real and equals R_es; the slope of its
    /// stored energy is that of the same Q (to first order in λ).
    #[test]
    fn creep_leaves_resonance_and_total_loss_where_they_are() {
        let circuit = woofer(Coil::Inductance { l_e_h: 1e-9 }, Some(0.1));
        let z = circuit.impedance(circuit.f_s_hz) - circuit.r_e_ohm;
        assert!((z.re - circuit.r_es_ohm()).abs() < 1e-9 && z.im.abs() < 1e-5);
        assert!((circuit.creep_share_of_loss() - 0.1 * 0.682_188_2 * 5.2).abs() < 1e-6);
    }

    #[test]
    fn parameters_lead_back_to_the_circuit() {
        let circuit = woofer(coils()[2], Some(0.06));
        let back = Circuit::from_parameters(circuit.model(), &circuit.parameters());
        assert!((back.impedance(40.0) - circuit.impedance(40.0)).norm() < 1e-12);
    }
}
