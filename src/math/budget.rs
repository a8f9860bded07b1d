//! Uncertainty budget: named contributions to one figure.
//!
//! A contribution is the signed change of the figure when its source moves by one standard uncertainty, so that
//! sources common to two figures (the same resistor, the same gain mismatch) can be cancelled when the two are compared.
//! Method: law of propagation, JCGM 100:2008 (GUM) 5.1 and 5.2.

use super::matrix::Matrix;
use serde::{Deserialize, Serialize};

/// One named contribution to the uncertainty of a figure, in the figure's own unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Contribution {
    /// What it comes from, in snake case: `noise`, `series_resistor`, `gain_match`, `coil_model`, ...
    pub source: String,
    /// Signed change of the figure for one standard uncertainty of the source.
    /// For random sources (noise, scatter) the sign carries no meaning and is positive.
    pub effect: f64,
    /// True when another part measured with the same jig shares this error (it cancels in a pair).
    pub common: bool,
}

/// A value with its contributions. Shapes: any number of contributions; no contribution means "not known".
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Best estimate.
    pub value: f64,
    /// Independent contributions.
    pub contributions: Vec<Contribution>,
    /// Degrees of freedom of the whole; infinity when every source is known well.
    pub degrees_of_freedom: f64,
}

impl Budget {
    /// A value without contributions yet.
    pub fn new(value: f64) -> Self {
        Budget { value, contributions: Vec::new(), degrees_of_freedom: f64::INFINITY }
    }

    /// Adds a contribution; `effect` in the unit of the value.
    pub fn add(&mut self, source: &str, effect: f64, common: bool) -> &mut Self {
        self.contributions.push(Contribution { source: source.to_owned(), effect, common });
        self
    }

    /// Root of the summed squares of all contributions.
    pub fn standard_uncertainty(&self) -> f64 {
        self.contributions.iter().map(|c| c.effect * c.effect).sum::<f64>().sqrt()
    }
}

/// Covariance of m results y = f(x) from the covariance of n inputs that may be correlated: J C Jᵀ, J being m × n
/// (GUM 5.2; for several results JCGM 102:2011).
pub fn propagate(jacobian: &Matrix, covariance: &Matrix) -> Matrix {
    jacobian.times(covariance).times(&jacobian.transposed())
}

/// m × n derivatives of `f` at `inputs` from symmetric differences of one standard uncertainty to either side, as
/// GUM 5.1.3, note 2, allows. An input without uncertainty gets a column of zeros: it adds nothing.
pub fn sensitivities(inputs: &[f64], covariance: &Matrix, f: impl Fn(&[f64]) -> Vec<f64>) -> Matrix {
    let mut out = Matrix::zeros(f(inputs).len(), inputs.len());
    for j in 0..inputs.len() {
        let u = covariance[(j, j)].max(0.0).sqrt();
        if u == 0.0 {
            continue;
        }
        let moved = |by: f64| {
            let mut x = inputs.to_vec();
            x[j] += by;
            f(&x)
        };
        for (i, (above, below)) in moved(u).iter().zip(moved(-u)).enumerate() {
            out[(i, j)] = (above - below) / (2.0 * u);
        }
    }
    out
}

/// Degrees of freedom of a combined uncertainty from (standard uncertainty, degrees of freedom) of independent parts:
/// Welch-Satterthwaite, GUM G.4.1. Infinite where all parts are known well or nothing is uncertain.
pub fn effective_degrees_of_freedom(parts: &[(f64, f64)]) -> f64 {
    let total: f64 = parts.iter().map(|(u, _)| u * u).sum();
    let sum: f64 = parts.iter().map(|(u, dof)| u.powi(4) / dof).sum();
    if sum > 0.0 {
        total * total / sum
    } else {
        f64::INFINITY
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn correlation_decides_about_a_difference() {
        let jacobian = Matrix::from_rows(&[[1.0, -1.0]]);
        let covariance = |r: f64| Matrix::from_rows(&[[4.0, 2.0 * r], [2.0 * r, 1.0]]);
        assert_eq!(propagate(&jacobian, &covariance(0.0))[(0, 0)], 5.0);
        assert_eq!(propagate(&jacobian, &covariance(1.0))[(0, 0)], 1.0);
        let numeric = sensitivities(&[3.0, 2.0], &covariance(0.0), |x| vec![x[0] - x[1], x[0] * x[1]]);
        assert!((numeric[(0, 1)] + 1.0).abs() < 1e-15 && (numeric[(1, 0)] - 2.0).abs() < 1e-15);
    }

    #[test]
    fn a_well_known_part_adds_no_doubt_about_the_doubt() {
        assert_eq!(effective_degrees_of_freedom(&[(1.0, 4.0)]), 4.0);
        assert_eq!(effective_degrees_of_freedom(&[(1.0, 4.0), (1.0, f64::INFINITY)]), 16.0);
        assert_eq!(effective_degrees_of_freedom(&[]), f64::INFINITY);
    }

    #[test]
    fn contributions_add_in_squares() {
        let mut budget = Budget::new(1.0);
        budget.add("noise", 3.0, false).add("resistor", -4.0, true);
        assert_eq!(budget.standard_uncertainty(), 5.0);
    }
}
