//! What to do after this knock: which resistor, whether a weight, or nothing more.

use super::knock_figures::Inputs;
use crate::electrical::preferred_values::{one, Series};

/// Loaded Q that splits mechanical from electrical loss best: 1.6 rings long enough and is damped enough by the coil
/// (common practice; least uncertainty of Q_es for Q_ms 3 to 10 by the damping line).
pub const LOADED_Q: f64 = 1.6;
/// Loaded Q within which a further resistor gains nothing.
pub const GOOD_LOADED_Q: std::ops::Range<f64> = 1.1..2.6;
/// Q_es assumed before any load has told it; low rather than high, so that the first load is not too heavy.
pub const Q_ES_ASSUMED: f64 = 0.3;

/// A step, with the resistor where it is one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Next {
    /// `open`, `load_resistor`, `r_e`, `weight` or `done`.
    pub code: &'static str,
    /// Resistor to put across the terminals.
    pub load_ohm: Option<f64>,
}

/// The next step that gains most.
pub(super) fn next(inputs: &Inputs, diameter_stated: bool) -> Next {
    let step = |code| Next { code, load_ohm: None };
    let open = inputs.unmounted().into_iter().find(|c| inputs.conditions[*c].load_ohm.is_none());
    if open.is_none() {
        return step("open");
    }
    let Some((inverse_q_ms, slope)) = inputs.damping_line() else { return step("open") };
    let weighted = inputs.conditions.iter().any(|c| c.added_mass_kg > 0.0);
    let measured = inputs.damping_is_measured();
    let best_load = inputs
        .unmounted()
        .into_iter()
        .filter(|c| inputs.conditions[*c].load_ohm.is_some())
        .any(|c| GOOD_LOADED_Q.contains(&inputs.ln_q[c].exp()));
    if !best_load {
        let slope = if measured { slope } else { inputs.r_e_ohm / Q_ES_ASSUMED };
        return match load_for(LOADED_Q, inverse_q_ms, slope, inputs.r_e_ohm) {
            Some(ohm) => Next { code: "load_resistor", load_ohm: Some(ohm) },
            None if !inputs.r_e_stated => step("r_e"),
            None => step(if weighted { "done" } else { "weight" }),
        };
    }
    if !inputs.r_e_stated {
        return step("r_e");
    }
    step(if !weighted && diameter_stated { "weight" } else { "done" })
}

/// E12 value that brings Q nearest to `wanted`; none where the open Q is already that low.
pub fn load_for(wanted: f64, inverse_q_ms: f64, slope: f64, r_e_ohm: f64) -> Option<f64> {
    let damping = 1.0 / wanted - inverse_q_ms;
    let exact = slope / damping - r_e_ohm;
    (damping > 0.05 && exact.is_finite()).then(|| nearest_e12(exact.clamp(1.0, 1000.0)))
}

/// Nearest preferred number by ratio.
pub fn nearest_e12(ohm: f64) -> f64 {
    one(Series::E12, ohm).map_or(ohm, |made| made.ohm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn preferred_numbers_of_iec_60063() {
        for (ohm, nearest) in [(100.0, 100.0), (95.0, 100.0), (35.0, 33.0), (36.5, 39.0), (50.0, 47.0), (9.4, 10.0)] {
            assert_eq!(nearest_e12(ohm), nearest, "{ohm}");
        }
    }

    #[test]
    fn the_load_brings_q_near_the_wanted_one() {
        // Q_ms 5, R_e 6, Q_es 0.4: A = 15; 15/(0.625 − 0.2) − 6 = 29.3, E12 27; Q = 1/(0.2 + 15/33) = 1.528.
        let ohm = load_for(LOADED_Q, 0.2, 15.0, 6.0).expect("a load");
        assert_eq!(ohm, 27.0);
        let q = 1.0 / (0.2 + 15.0 / (6.0 + ohm));
        assert!((q - 1.528).abs() < 0.001, "{q}");
    }

    #[test]
    fn a_heavily_damped_driver_needs_no_load() {
        assert_eq!(load_for(LOADED_Q, 0.6, 15.0, 6.0), None);
    }
}
