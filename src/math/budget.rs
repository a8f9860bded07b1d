//! Uncertainty budget: named contributions to one figure, and how sources become contributions.
//!
//! A contribution is the signed change of the figure when its source moves by one standard uncertainty, so that
//! sources common to two figures (the same resistor, the same gain mismatch) can be cancelled when the two are compared.
//! Method: law of propagation, JCGM 100:2008 (GUM) 5.1 and 5.2, for several figures at once as in JCGM 102:2011; degrees
//! of freedom by Welch and Satterthwaite, GUM G.4.1.
//!
//! A covariance C of the inputs stands here as its root: changes c with C = Σ c cᵀ. Then J C Jᵀ = Σ (J c)(J c)ᵀ, no sum of
//! large terms cancels, and a source that moves everything one way keeps its sign.

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
    /// Independent contributions, one a name.
    pub contributions: Vec<Contribution>,
    /// Σ u⁴/ν over all parts.
    fourth_powers: f64,
}

impl Budget {
    /// A value without contributions yet.
    pub fn new(value: f64) -> Self {
        Budget { value, contributions: Vec::new(), fourth_powers: 0.0 }
    }

    /// Adds a part; `effect` in the unit of the value, `degrees_of_freedom` infinite where its size is known well.
    /// Parts of one name are put together by squares: beside another part the sign carries no meaning.
    pub fn add(&mut self, source: &str, effect: f64, common: bool, degrees_of_freedom: f64) -> &mut Self {
        if effect == 0.0 {
            return self;
        }
        self.fourth_powers += effect.powi(4) / degrees_of_freedom;
        match self.contributions.iter_mut().find(|c| c.source == source) {
            Some(c) => {
                c.effect = c.effect.hypot(effect);
                c.common &= common;
            }
            None => self.contributions.push(Contribution { source: source.to_owned(), effect, common }),
        }
        self
    }

    /// Root of the summed squares of all contributions.
    pub fn standard_uncertainty(&self) -> f64 {
        length(self.contributions.iter().map(|c| c.effect))
    }

    /// Effective degrees of freedom; infinite where all parts are known well or nothing is uncertain.
    pub fn degrees_of_freedom(&self) -> f64 {
        if self.fourth_powers > 0.0 {
            self.standard_uncertainty().powi(4) / self.fourth_powers
        } else {
            f64::INFINITY
        }
    }
}

/// One independent source of uncertainty of the inputs of a calculation.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Name in the budget; sources of one name become one contribution.
    pub name: &'static str,
    /// True where another part in the same jig shares it.
    pub common: bool,
    /// Root of its covariance: each row is an independent change of the inputs by one standard uncertainty.
    pub changes: Vec<Vec<f64>>,
    /// How well its size is known: degrees of freedom, infinite for limits that are stated.
    pub degrees_of_freedom: f64,
}

impl Source {
    /// A source of one or more changes.
    pub fn new(name: &'static str, common: bool, changes: Vec<Vec<f64>>, degrees_of_freedom: f64) -> Self {
        Source { name, common, changes, degrees_of_freedom }
    }

    /// Signed effect on a figure with these derivatives by the inputs; where there are several changes, their length.
    fn effect(&self, slope: &[f64]) -> f64 {
        match self.changes.as_slice() {
            [only] => dot(slope, only),
            many => length(many.iter().map(|c| dot(slope, c))),
        }
    }
}

/// The budget of each value, whose derivatives by the inputs are the rows of `jacobian`.
pub fn propagate(values: &[f64], jacobian: &Matrix, sources: &[Source]) -> Vec<Budget> {
    let one = |(i, value): (usize, &f64)| {
        let mut budget = Budget::new(*value);
        for s in sources {
            budget.add(s.name, s.effect(jacobian.row(i)), s.common, s.degrees_of_freedom);
        }
        budget
    };
    values.iter().enumerate().map(one).collect()
}

/// Covariance of the results, J C Jᵀ, all sources together.
pub fn covariance(jacobian: &Matrix, sources: &[Source]) -> Matrix {
    let m = jacobian.rows();
    let mut out = Matrix::zeros(m, m);
    for change in sources.iter().flat_map(|s| &s.changes) {
        let moved = jacobian.times_vector(change);
        for i in 0..m {
            for k in 0..m {
                out[(i, k)] += moved[i] * moved[k];
            }
        }
    }
    out
}

/// Rows c with Σ c cᵀ = covariance (Cholesky; a pivot that rounding made negative counts as zero).
pub fn root_rows(covariance: &Matrix) -> Vec<Vec<f64>> {
    let n = covariance.rows();
    let mut lower = Matrix::zeros(n, n);
    for j in 0..n {
        for i in j..n {
            let known: f64 = (0..j).map(|k| lower[(i, k)] * lower[(j, k)]).sum();
            let rest = covariance[(i, j)] - known;
            lower[(i, j)] = match (i == j, lower[(j, j)]) {
                (true, _) => rest.max(0.0).sqrt(),
                (false, pivot) if pivot > 0.0 => rest / pivot,
                _ => 0.0,
            };
        }
    }
    (0..n).map(|j| lower.column(j)).collect()
}

/// Derivatives of `f` at `inputs` from symmetric differences of one step to either side; a step of one standard
/// uncertainty is what GUM 5.1.3, note 2, allows. An input without a step gets a column of zeros: it adds nothing.
/// What `f` gives only on some of the points counts as not moved.
pub fn sensitivities(inputs: &[f64], steps: &[f64], f: impl Fn(&[f64]) -> Vec<f64>) -> Matrix {
    let mut out = Matrix::zeros(f(inputs).len(), inputs.len());
    for (j, step) in steps.iter().enumerate().filter(|(_, step)| **step != 0.0) {
        let moved = |by: f64| {
            let mut x = inputs.to_vec();
            x[j] += by;
            f(&x)
        };
        let (above, below) = (moved(*step), moved(-step));
        for i in 0..out.rows().min(above.len()).min(below.len()) {
            out[(i, j)] = (above[i] - below[i]) / (2.0 * step);
        }
    }
    out
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn length(parts: impl Iterator<Item = f64>) -> f64 {
    parts.map(|p| p * p).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    const KNOWN: f64 = f64::INFINITY;

    #[test]
    fn correlation_decides_about_a_difference() {
        let jacobian = Matrix::from_rows(&[[1.0, -1.0]]);
        let variance = |r: f64| {
            let changes = root_rows(&Matrix::from_rows(&[[4.0, 2.0 * r], [2.0 * r, 1.0]]));
            let sources = [Source::new("both", false, changes, KNOWN)];
            let u = propagate(&[0.0], &jacobian, &sources)[0].standard_uncertainty();
            assert!((covariance(&jacobian, &sources)[(0, 0)] - u * u).abs() < 1e-15);
            u * u
        };
        assert!((variance(0.0) - 5.0).abs() < 1e-14 && (variance(1.0) - 1.0).abs() < 1e-14);
        let numeric = sensitivities(&[3.0, 2.0], &[2.0, 1.0], |x| vec![x[0] - x[1], x[0] * x[1]]);
        assert!((numeric[(0, 1)] + 1.0).abs() < 1e-15 && (numeric[(1, 0)] - 2.0).abs() < 1e-15);
        assert_eq!(sensitivities(&[3.0], &[0.0], |x| x.to_vec())[(0, 0)], 0.0);
    }

    #[test]
    fn a_well_known_part_adds_no_doubt_about_the_doubt() {
        let freedom = |parts: &[f64]| {
            let mut budget = Budget::new(0.0);
            for (name, freedom) in ["a", "b"].iter().zip(parts) {
                budget.add(name, 1.0, false, *freedom);
            }
            budget.degrees_of_freedom()
        };
        // By hand: u⁴/(u⁴/4), (2u²)²/(u⁴/4); two or three roundings of a unit in the last place.
        assert!((freedom(&[4.0]) - 4.0).abs() < 1e-14 && (freedom(&[4.0, KNOWN]) - 16.0).abs() < 1e-13);
        assert_eq!(freedom(&[]), KNOWN);
    }

    #[test]
    fn contributions_add_in_squares_and_keep_their_sign_alone() {
        let mut budget = Budget::new(1.0);
        budget.add("noise", 3.0, false, KNOWN).add("resistor", -4.0, true, KNOWN).add("nothing", 0.0, true, KNOWN);
        assert_eq!((budget.standard_uncertainty(), budget.contributions.len()), (5.0, 2));
        assert_eq!(budget.contributions[1].effect, -4.0);
        budget.add("resistor", 3.0, false, KNOWN);
        assert_eq!((budget.contributions[1].effect, budget.contributions[1].common), (5.0, false));
    }
}
