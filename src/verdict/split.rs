//! What parts two drivers: stiffness, mass or motor, from the differences of a pair.
//!
//! With left/right as logarithms F = Δln f_s, Q = Δln Q_es − Δln R_e, P = Δln p + Δln |Z| (p: pressure in the mid band at
//! equal volts, ∝ Bl/(|Z| M_ms), |Z| in the same band): from f_s² ∝ K/M, Q_es ∝ f_s M R_e/Bl² and p follow
//! Δln M = F − 2P − Q, Δln K = 3F − 2P − Q, Δln Bl = F − P − Q. With the mass weighed instead, M is known and P is not wanted.
//!
//! The mass alone rules the cone only well above f_s: p carries 1/(1 − (f_s/f)²) besides, which is allowed for to first order.

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

impl Split {
    /// The causes by their names.
    pub fn named(&self) -> [(&'static str, Difference); 3] {
        [("mass", self.mass), ("stiffness", self.stiffness), ("motor", self.motor)]
    }

    /// The cause that is larger than every other, both taken at the near ends of their 95 % intervals.
    pub fn chief(&self) -> Option<&'static str> {
        let least = |d: &Difference| d.ln_ratio.abs() - d.half_width_95;
        let most = |d: &Difference| d.ln_ratio.abs() + d.half_width_95;
        let all = self.named();
        let over = |(name, d): &(&'static str, Difference)| {
            all.iter().all(|(other, o)| other == name || least(d) > most(o)).then_some(*name)
        };
        all.iter().find_map(over)
    }
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

/// Level in the mid band at equal volts, from four times f_s on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MidBand {
    /// Pressures.
    pub pressure: Difference,
    /// |Z| over the same band; where the coil's own impedance is small, R_e.
    pub impedance: Difference,
    /// Mean of (f_s/f)² over the band.
    pub closeness: f64,
}

/// Split with the level in the mid band.
pub fn by_level(f_s: Difference, q_es: Difference, r_e: Difference, level: MidBand) -> Split {
    // P loses what f_s by itself does to the level: 2 (f_s/f)² F.
    let near = 2.0 * level.closeness;
    let rest = |f: f64| {
        sum(&[(f + 2.0 * near, f_s), (-2.0, level.pressure), (-2.0, level.impedance), (-1.0, q_es), (1.0, r_e)])
    };
    let motor = [(1.0 + near, f_s), (-1.0, level.pressure), (-1.0, level.impedance), (-1.0, q_es), (1.0, r_e)];
    Split { mass: rest(1.0), stiffness: rest(3.0), motor: sum(&motor) }
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
        let level = MidBand { pressure: p, impedance: r, closeness: 0.0 };
        for split in [by_level(f, q, r, level), by_mass(f, q, r, ratio(0.031, 0.030))] {
            assert!((split.mass.ln_ratio - (31.0f64 / 30.0).ln()).abs() < 1e-12);
            assert!((split.stiffness.ln_ratio - 1.1f64.ln()).abs() < 1e-12);
            assert!((split.motor.ln_ratio - (7.3f64 / 7.0).ln()).abs() < 1e-12);
        }
    }

    #[test]
    fn the_chief_cause_is_larger_than_the_others_beyond_both_intervals() {
        let split =
            |mass: f64| Split { mass: known(mass, 0.01), stiffness: known(-0.05, 0.01), motor: known(0.0, 0.01) };
        assert_eq!((split(0.1).chief(), split(-0.1).chief(), split(0.08).chief()), (Some("mass"), Some("mass"), None));
    }

    #[test]
    fn uncertainty_is_what_the_weights_make_of_it() {
        // 0.3 % in f_s, 2 % in Q_es, 0.1 dB = 1.15 % in level, R_e alike: √(0.9² + 2.3² + 2²) = 3.2 % of stiffness,
        // √(0.3² + 2.3² + 2²) = 3.1 % of mass, √(0.3² + 1.15² + 2²) = 2.3 % of Bl.
        let level = 0.1 / 20.0 * std::f64::consts::LN_10;
        let sure = known(0.0, 0.0);
        let level = MidBand { pressure: known(0.0, level), impedance: sure, closeness: 0.0 };
        let s = by_level(known(0.0, 0.003), known(0.0, 0.02), sure, level);
        let percent = |d: Difference| (1e3 * d.standard_uncertainty).round() / 10.0;
        assert_eq!([percent(s.stiffness), percent(s.mass), percent(s.motor)], [3.2, 3.1, 2.3]);
    }
}
