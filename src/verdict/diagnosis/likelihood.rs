//! How well a change of the causes explains what was compared: χ² in the covariance of readings and natural spread.

use super::evidence::{Causes, Compared};
use super::setup::NaturalSpread;
use crate::math::budget::root_rows;
use crate::math::matrix::Matrix;

/// What good ones scatter by, in the space of what was compared.
pub(super) struct Scatter<'a> {
    compared: &'a [Compared],
    covariance: Matrix,
}

/// How well a pattern fits at one severity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fit {
    /// Sum of squares that is left.
    pub left_over: f64,
    /// −2 ln likelihood, but for a constant.
    pub score: f64,
}

impl NaturalSpread {
    fn causes(&self) -> Causes {
        [self.mass, self.stiffness, self.motor, self.r_e, self.loss, self.coil]
    }
}

impl<'a> Scatter<'a> {
    /// `spread` none: the differences hold it already.
    pub(super) fn new(compared: &'a [Compared], spread: Option<NaturalSpread>) -> Self {
        let n = compared.len();
        let mut covariance = Matrix::zeros(n, n);
        for (i, c) in compared.iter().enumerate() {
            // The quantile of few degrees of freedom widens the interval: what is beyond it counts no more than it should.
            covariance[(i, i)] = (c.difference.half_width_95 / 1.96).powi(2).max(1e-12);
        }
        let mut scatter = Scatter { compared, covariance };
        if let Some(spread) = spread {
            scatter.covariance = scatter.widened(&spread.causes());
        }
        scatter
    }

    /// With causes that are uncertain by these standard deviations besides.
    fn widened(&self, causes: &Causes) -> Matrix {
        let mut out = self.covariance.clone();
        for (k, deviation) in causes.iter().enumerate() {
            for (i, a) in self.compared.iter().enumerate() {
                for (j, b) in self.compared.iter().enumerate() {
                    out[(i, j)] += deviation * deviation * a.slope[k] * b.slope[k];
                }
            }
        }
        out
    }

    pub(super) fn widen(&mut self, causes: &Causes) {
        self.covariance = self.widened(causes);
    }

    /// What a change of the causes makes of each comparison.
    pub(super) fn expected(&self, causes: &Causes) -> Vec<f64> {
        let one = |c: &Compared| c.slope.iter().zip(causes).map(|(s, x)| s * x).sum();
        self.compared.iter().map(one).collect()
    }

    /// Half-width within which 19 of 20 good ones lie.
    pub(super) fn usual(&self, i: usize) -> f64 {
        1.96 * self.covariance[(i, i)].sqrt()
    }

    /// The differences less what `causes` explain, `loose` being how uncertain that is.
    pub(super) fn fit(&self, causes: &Causes, loose: &Causes) -> Fit {
        let expected = self.expected(causes);
        let left: Vec<f64> = self.compared.iter().zip(expected).map(|(c, e)| c.difference.ln_ratio - e).collect();
        squares(&self.widened(loose), &left)
    }

    /// How far a change of the causes stands out from what good ones scatter by, as a sum of squares.
    pub(super) fn stands_out(&self, causes: &Causes) -> f64 {
        squares(&self.covariance, &self.expected(causes)).left_over
    }
}

/// xᵀ C⁻¹ x, and with ln det C; by the root of C and one substitution.
fn squares(covariance: &Matrix, x: &[f64]) -> Fit {
    let columns = root_rows(covariance);
    let mut solved: Vec<f64> = Vec::with_capacity(x.len());
    for i in 0..x.len() {
        let known: f64 = solved.iter().zip(&columns).map(|(s, column)| s * column[i]).sum();
        solved.push((x[i] - known) / columns[i][i].max(f64::MIN_POSITIVE));
    }
    let left_over: f64 = solved.iter().map(|s| s * s).sum();
    let ln_det: f64 = columns.iter().enumerate().map(|(i, column)| 2.0 * column[i].max(f64::MIN_POSITIVE).ln()).sum();
    Fit { left_over, score: left_over + ln_det }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_correlated_pair_by_hand() {
        // C = [[4, 2], [2, 3]], x = (2, 1): C⁻¹ = [[3, −2], [−2, 4]]/8, xᵀC⁻¹x = (12 − 8 + 4)/8 = 1; det = 8.
        let fit = squares(&Matrix::from_rows(&[[4.0, 2.0], [2.0, 3.0]]), &[2.0, 1.0]);
        assert!((fit.left_over - 1.0).abs() < 1e-12 && (fit.score - 1.0 - 8f64.ln()).abs() < 1e-12, "{fit:?}");
    }
}
