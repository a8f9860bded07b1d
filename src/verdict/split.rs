//! What parts two drivers: stiffness, mass or motor, from the differences of a pair.
//!
//! With left/right as logarithms F = Δln f_s, Q = Δln Q_es − Δln R_e, P = Δln p + Δln R_e (p: pressure in the mid band at
//! equal volts, ∝ Bl/(R_e M_ms)): from f_s² ∝ K/M, Q_es ∝ f_s M R_e/Bl² and p follow Δln M = F − 2P − Q,
//! Δln K = 3F − 2P − Q, Δln Bl = F − P − Q. With the mass weighed instead, M is known and P is not wanted.

use super::difference::Difference;

/// The three causes, each with its uncertainty, as logarithmic ratios left over right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Split {
    /// Moving mass.
    pub mass: Difference,
    /// Stiffness of the suspension.
    pub stiffness: Difference,
    /// Force factor Bl.
    pub motor: Difference,
}

/// Sum of weighted differences that do not depend on each other.
fn sum(parts: &[(f64, Difference)]) -> Difference {
    let length = |of: fn(&Difference) -> f64| parts.iter().map(|(w, d)| (w * of(d)).powi(2)).sum::<f64>().sqrt();
    Difference {
        ln_ratio: parts.iter().map(|(w, d)| w * d.ln_ratio).sum(),
        standard_uncertainty: length(|d| d.standard_uncertainty),
        half_width_95: length(|d| d.half_width_95),
    }
}

/// Split with the level in the mid band. `r_e` enters Q and P with opposite signs: put together before the sum.
pub fn by_level(f_s: Difference, q_es: Difference, r_e: Difference, pressure: Difference) -> Split {
    // −2P − Q = −2 ln p − ln Q_es − ln R_e;  −P − Q = −ln p − ln Q_es.
    let rest = |f: f64| sum(&[(f, f_s), (-2.0, pressure), (-1.0, q_es), (-1.0, r_e)]);
    Split { mass: rest(1.0), stiffness: rest(3.0), motor: sum(&[(1.0, f_s), (-1.0, pressure), (-1.0, q_es)]) }
}

/// Split with the moving masses measured.
pub fn by_mass(f_s: Difference, q_es: Difference, r_e: Difference, mass: Difference) -> Split {
    // Bl² ∝ f_s M R_e/Q_es.
    Split {
        mass,
        stiffness: sum(&[(2.0, f_s), (1.0, mass)]),
        motor: sum(&[(0.5, f_s), (0.5, mass), (0.5, r_e), (-0.5, q_es)]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(ln_ratio: f64, standard_uncertainty: f64) -> Difference {
        Difference { ln_ratio, standard_uncertainty, half_width_95: 1.96 * standard_uncertainty }
    }

    /// Figures of a driver from its parts, by the definitions: f_s, Q_es, mid-band pressure.
    fn figures(k: f64, m: f64, bl: f64, r_e: f64) -> (f64, f64, f64) {
        let omega = (k / m).sqrt();
        (omega / std::f64::consts::TAU, omega * m * r_e / (bl * bl), bl / (r_e * m))
    }

    #[test]
    fn the_causes_are_told_apart_by_either_way() {
        let (left, right) = (figures(1100.0, 0.031, 7.3, 5.9), figures(1000.0, 0.030, 7.0, 6.0));
        let ratio = |a: f64, b: f64| known((a / b).ln(), 0.0);
        let (f, q, p) = (ratio(left.0, right.0), ratio(left.1, right.1), ratio(left.2, right.2));
        let r = ratio(5.9, 6.0);
        for split in [by_level(f, q, r, p), by_mass(f, q, r, ratio(0.031, 0.030))] {
            assert!((split.mass.ln_ratio - (31.0f64 / 30.0).ln()).abs() < 1e-12);
            assert!((split.stiffness.ln_ratio - 1.1f64.ln()).abs() < 1e-12);
            assert!((split.motor.ln_ratio - (7.3f64 / 7.0).ln()).abs() < 1e-12);
        }
    }

    #[test]
    fn uncertainty_is_what_the_weights_make_of_it() {
        // 0.3 % in f_s, 2 % in Q_es, 0.1 dB = 1.15 % in level, R_e alike: √(0.9² + 2.3² + 2²) = 3.2 % of stiffness,
        // √(0.3² + 2.3² + 2²) = 3.1 % of mass, √(0.3² + 1.15² + 2²) = 2.3 % of Bl.
        let level = 0.1 / 20.0 * std::f64::consts::LN_10;
        let s = by_level(known(0.0, 0.003), known(0.0, 0.02), known(0.0, 0.0), known(0.0, level));
        let percent = |d: Difference| (1e3 * d.standard_uncertainty).round() / 10.0;
        assert_eq!([percent(s.stiffness), percent(s.mass), percent(s.motor)], [3.2, 3.1, 2.3]);
    }
}
