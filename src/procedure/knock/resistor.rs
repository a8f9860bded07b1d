//! Which resistor across the terminals, and whether a weight is heavy enough.
//!
//! With a load R_L: 1/Q = 1/Q_ms + R_e/(Q_es (R_e + R_L)). A loaded Q of about 1.6 is damped enough to show Q_es and
//! rings long enough to be read; a short is overdamped with most drivers and tells nothing.
//! With a weight: M_ms = ΔM/((f_s/f_M)² − 1); ΔM is good from 30 to 100 % of M_ms.

/// Loaded Q aimed at.
pub const TARGET_Q: f64 = 1.6;
/// Loaded Q that still serves; outside another resistor is proposed. Common practice, no source.
pub const GOOD_Q: (f64, f64) = (1.1, 2.6);
/// Weight over moving mass that serves.
pub const GOOD_WEIGHT: (f64, f64) = (0.3, 1.0);
/// Taken for a driver of which nothing else is known yet. Common practice, no source.
const USUAL_Q_ES: f64 = 0.4;
const USUAL_R_E_OHM: f64 = 6.0;
/// Resistors that a bench has, ohms.
const DRAWER_OHM: (f64, f64) = (4.7, 470.0);
/// Standard values of IEC 60063, series E12.
const E12: [f64; 12] = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];

/// The load that gives [`TARGET_Q`], as the nearest E12 value in the drawer; none where the open ring is already damped
/// so much that no load would show. Unknown Q_es or R_e (ohms) are taken as usual ones.
pub fn load_ohm(q_ms: f64, q_es: Option<f64>, r_e_ohm: Option<f64>) -> Option<f64> {
    let r_e = r_e_ohm.filter(|r| *r > 0.0).unwrap_or(USUAL_R_E_OHM);
    let q_es = q_es.filter(|q| *q > 0.0).unwrap_or(USUAL_Q_ES);
    let electrical = 1.0 / TARGET_Q - 1.0 / q_ms;
    if !q_ms.is_finite() || electrical <= 0.1 {
        return None;
    }
    let exact = r_e / (q_es * electrical) - r_e;
    Some(nearest_e12(exact.clamp(DRAWER_OHM.0, DRAWER_OHM.1)))
}

/// Q with a load across the terminals, ohms.
pub fn loaded_q(q_ms: f64, q_es: f64, r_e_ohm: f64, load_ohm: f64) -> f64 {
    1.0 / (1.0 / q_ms + r_e_ohm / (q_es * (r_e_ohm + load_ohm)))
}

/// Nearest value of the E12 series, by ratio. `ohm` is positive.
pub fn nearest_e12(ohm: f64) -> f64 {
    let decade = 10f64.powf(ohm.log10().floor());
    let near = E12.iter().map(|e| e * decade).chain([10.0 * decade]);
    let closer = |a: f64, b: f64| if (b / ohm).ln().abs() < (a / ohm).ln().abs() { b } else { a };
    let best = near.fold(decade, closer);
    // Binary fractions of a decade below one ohm would show as 0.8200000001.
    (best * 1e6).round() / 1e6
}

/// Weight over moving mass from the two resonances; none where the weight did not lower it.
pub fn weight_ratio(f_open_hz: f64, f_weighted_hz: f64) -> Option<f64> {
    let ratio = (f_open_hz / f_weighted_hz).powi(2) - 1.0;
    (ratio.is_finite() && ratio > 0.0).then_some(ratio)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Worked by hand from the formula in the module's head: 1/1.6 − 1/5 = 0.425; 6/(0.4 · 0.425) − 6 = 29.3 Ω.
    #[test]
    fn the_load_gives_the_wanted_q() {
        assert_eq!(load_ohm(5.0, Some(0.4), Some(6.0)), Some(27.0));
        assert!((loaded_q(5.0, 0.4, 6.0, 29.294_117_647) - 1.6).abs() < 1e-9);
        assert_eq!(load_ohm(1.7, Some(0.4), Some(6.0)), None);
    }

    #[test]
    fn e12_values_are_their_own_nearest() {
        for ohm in [4.7, 47.0, 82.0, 100.0, 0.82, 3900.0] {
            assert_eq!(nearest_e12(ohm), ohm);
        }
        assert_eq!(nearest_e12(95.0), 100.0);
        assert_eq!(nearest_e12(90.0), 82.0);
    }

    /// 50 g on a 120 g cone lowers the resonance by √(1 + 50/120).
    #[test]
    fn the_weight_ratio_is_mass_over_mass() {
        let fell = (1.0f64 + 50.0 / 120.0).sqrt();
        assert!((weight_ratio(30.0, 30.0 / fell).expect("lower") - 50.0 / 120.0).abs() < 1e-12);
        assert_eq!(weight_ratio(30.0, 31.0), None);
    }

    proptest! {
        /// Neighbours in E12 are at most a factor 1.25 apart, so the nearest is within its root.
        #[test]
        fn nearest_is_near(ohm in 0.5f64..5000.0) {
            prop_assert!((nearest_e12(ohm) / ohm).ln().abs() <= 1.25f64.ln() / 2.0 + 1e-9);
        }
    }
}
