//! Which resistor next, and whether a weight suits.
//!
//! With a load R_L: 1/Q = 1/Q_ms + R_e/(Q_es (R_e + R_L)); the choice itself stands with the analysis, which knows the
//! line of damping. With a weight: M_ms = ΔM/((f_s/f_M)² − 1); ΔM is good from 30 to 100 % of M_ms.

use crate::driver::knock_check::{load_for, LOADED_Q, Q_ES_ASSUMED, R_E_ASSUMED};
use crate::electrical::preferred_values::{two, Joined, Series};
use crate::procedure::build::ohm_words;

/// Weight over moving mass that serves.
pub(super) const GOOD_WEIGHT: (f64, f64) = (0.3, 1.0);

/// The load in ohms that brings the ring to the wanted Q; none where the open ring is damped as much already. What is
/// not known yet is taken as usual.
pub(in crate::procedure) fn load_ohm(q_ms: f64, q_es: Option<f64>, r_e_ohm: Option<f64>) -> Option<f64> {
    let positive = |x: Option<f64>| x.filter(|x| x.is_finite() && *x > 0.0);
    let r_e = positive(r_e_ohm).unwrap_or(R_E_ASSUMED);
    let q_es = positive(q_es).unwrap_or(Q_ES_ASSUMED);
    let q_ms = positive(Some(q_ms))?;
    load_for(LOADED_Q, 1.0 / q_ms, r_e / q_es, r_e)
}

/// How two resistors of E12 come near a load, as a sentence to stand behind another.
pub(in crate::procedure) fn of_two(load_ohm: f64) -> Option<String> {
    let made = two(Series::E12, load_ohm)?;
    let how = if made.joined == Joined::Parallel { "side by side" } else { "one after the other" };
    let [a, b] = made.parts_ohm.as_slice() else { return None };
    let (a, b, sum) = (ohm_words(*a), ohm_words(*b), ohm_words(made.ohm));
    Some(format!(" Not at hand? {a} and {b} {how} make {sum}."))
}

/// Weight over moving mass from the two resonances; none where the weight did not lower it.
pub(super) fn weight_ratio(f_open_hz: f64, f_weighted_hz: f64) -> Option<f64> {
    let ratio = (f_open_hz / f_weighted_hz).powi(2) - 1.0;
    (ratio.is_finite() && ratio > 0.0).then_some(ratio)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand from the formula in the head: 1/1.6 − 1/5 = 0.425; 6/(0.4 · 0.425) − 6 = 29.3 Ω, in E12 27 Ω.
    /// Nothing known but Q_ms: the usual R_e 6 Ω and Q_es 0.3 give 41.1 Ω, in E12 39 Ω.
    #[test]
    fn the_load_follows_what_is_known() {
        assert_eq!(load_ohm(5.0, Some(0.4), Some(6.0)), Some(27.0));
        assert_eq!(load_ohm(5.0, None, None), Some(39.0));
        assert_eq!(load_ohm(5.0, Some(f64::NAN), Some(-6.0)), Some(39.0));
        assert_eq!(load_ohm(1.6, Some(0.4), Some(6.0)), None);
    }

    /// By trying: 15 Ω and 12 Ω make 27 Ω exactly.
    #[test]
    fn two_resistors_stand_in_for_one() {
        let sentence = of_two(27.0).expect("a pair");
        assert_eq!(sentence, " Not at hand? 15\u{a0}Ω and 12\u{a0}Ω one after the other make 27\u{a0}Ω.");
    }

    /// 50 g on a 120 g cone lowers the resonance by √(1 + 50/120).
    #[test]
    fn the_weight_ratio_is_mass_over_mass() {
        let fell = (1.0f64 + 50.0 / 120.0).sqrt();
        assert!((weight_ratio(30.0, 30.0 / fell).expect("lower") - 50.0 / 120.0).abs() < 1e-12);
        assert_eq!(weight_ratio(30.0, 31.0), None);
    }
}
