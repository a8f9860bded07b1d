//! Joint fit of many rings: frequency and Q for each condition, poles of the input and amplitude law shared by all.
//!
//! Method: variable projection (Golub and Pereyra 1973) with Kaufman's Jacobian (1975): the amplitudes are solved for
//! exactly at every step, the Levenberg-Marquardt search sees the nonlinear parameters only. Residuals are in units of the
//! noise of their ring, whitened. Weak prior knowledge of a pole (a sound card does not couple at 200 Hz) enters as one
//! more residual.

use super::ring_down_model::{Ring, Shape};
use super::ring_down_projection::{dot, Projection};
use crate::math::levenberg_marquardt::{self as search, Options, Problem};
use crate::math::matrix::Matrix;

/// What is known of a parameter beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Prior {
    /// Place of the parameter.
    pub at: usize,
    /// Expected value.
    pub mean: f64,
    /// Standard deviation of that knowledge.
    pub deviation: f64,
}

/// Result of a joint fit.
#[derive(Clone, Debug)]
pub(super) struct JointFit {
    /// Every nonlinear parameter, fixed ones included.
    pub parameters: Vec<f64>,
    /// (JᵀJ)⁻¹ over the free parameters, for noise of one unit.
    pub covariance: Matrix,
    /// Places of the free parameters, in the order of the covariance.
    pub free: Vec<usize>,
    /// Sum of squares of the residuals of each ring, in units of its noise.
    pub squares: Vec<f64>,
    /// Residuals left for each ring once its own amplitudes are paid for.
    pub degrees_of_freedom: Vec<f64>,
    /// Amplitudes of the columns of each ring.
    pub amplitudes: Vec<Vec<f64>>,
    /// Parameters of both kinds.
    pub parameter_count: usize,
    /// Samples of all rings.
    pub samples: usize,
    /// False where the search did not end in a minimum.
    pub converged: bool,
}

impl JointFit {
    /// Sum of squares over all rings.
    pub(super) fn sum_of_squares(&self) -> f64 {
        self.squares.iter().sum()
    }

    /// Mean square of the residual in units of the noise: 1 where the model explains all but the noise.
    pub(super) fn misfit(&self) -> f64 {
        let freedom = self.degrees_of_freedom.iter().sum::<f64>() - self.free.len() as f64;
        self.sum_of_squares() / freedom.max(1.0)
    }

    /// Information criterion for choosing between models (Schwarz 1978), noise level unknown; smaller is better.
    pub(super) fn information(&self) -> f64 {
        let n = self.samples as f64;
        n * (self.sum_of_squares() / n).max(f64::MIN_POSITIVE).ln() + self.parameter_count as f64 * n.ln()
    }

    /// Standard deviation of a parameter for noise of one unit; none where it was held.
    pub(super) fn deviation(&self, at: usize) -> Option<f64> {
        let k = self.free.iter().position(|f| *f == at)?;
        let variance = self.covariance.row(k)[k];
        (variance.is_finite() && variance >= 0.0).then(|| variance.sqrt())
    }
}

struct Joint<'a> {
    rings: &'a [Ring],
    shape: &'a Shape,
    fixed: &'a [f64],
    free: &'a [usize],
    priors: &'a [Prior],
}

/// Fits the `free` parameters from `start` (which holds all). None where the start cannot be evaluated.
pub(super) fn fit(rings: &[Ring], shape: &Shape, start: &[f64], free: &[usize], priors: &[Prior]) -> Option<JointFit> {
    let priors: Vec<Prior> = priors.iter().copied().filter(|p| free.contains(&p.at)).collect();
    let problem = Joint { rings, shape, fixed: start, free, priors: &priors };
    let first: Vec<f64> = free.iter().map(|k| start[*k]).collect();
    // A thousandth of a standard error is near enough: gradient_tolerance times √(degrees of freedom), about 60 here.
    let options = Options { iterations_at_most: 25, gradient_tolerance: 1e-5, step_tolerance: 1e-10 };
    let report = search::fit(&problem, &first, &options);
    let parameters = problem.all(&report.parameters);
    let mut out = JointFit {
        covariance: report.covariance.clone(),
        free: free.to_vec(),
        squares: Vec::new(),
        degrees_of_freedom: Vec::new(),
        amplitudes: Vec::new(),
        parameter_count: free.len(),
        samples: 0,
        converged: report.stop.converged(),
        parameters,
    };
    for ring in rings {
        let (residual, rank, amplitudes) = ring_residual(ring, shape, &out.parameters)?;
        out.squares.push(dot(&residual, &residual) / (ring.noise * ring.noise));
        out.degrees_of_freedom.push(residual.len() as f64 - rank as f64);
        out.amplitudes.push(amplitudes);
        out.parameter_count += rank;
        out.samples += residual.len();
    }
    Some(out)
}

/// Whitened residual of one ring, the rank of its columns and the amplitudes of ring, poles and pairs; none outside the
/// valid range.
pub(super) fn ring_residual(ring: &Ring, shape: &Shape, p: &[f64]) -> Option<(Vec<f64>, usize, Vec<f64>)> {
    let columns: Vec<Vec<f64>> = ring.columns(shape, p)?.iter().map(|c| ring.clear(c)).collect();
    let projection = Projection::new(&columns);
    let data = &ring.prepared.data;
    let rank = projection.rank() + ring.prepared.rank();
    Some((projection.residual(data), rank, projection.coefficients(data)))
}

impl Joint<'_> {
    fn all(&self, free: &[f64]) -> Vec<f64> {
        let mut p = self.fixed.to_vec();
        for (k, v) in self.free.iter().zip(free) {
            p[*k] = *v;
        }
        p
    }
}

impl Problem for Joint<'_> {
    fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool {
        let all = self.all(p);
        for ring in self.rings {
            let Some((residual, ..)) = ring_residual(ring, self.shape, &all) else { return false };
            out.extend(residual.iter().map(|r| r / ring.noise));
        }
        out.extend(self.priors.iter().map(|prior| (all[prior.at] - prior.mean) / prior.deviation));
        true
    }

    fn jacobian(&self, p: &[f64], out: &mut Matrix) {
        let all = self.all(p);
        let mut row = 0;
        for ring in self.rings {
            let Some(columns) = ring.columns(self.shape, &all) else { return };
            let white: Vec<Vec<f64>> = columns.iter().map(|c| ring.clear(c)).collect();
            let projection = Projection::new(&white);
            let amplitudes = projection.coefficients(&ring.prepared.data);
            for (at, slope) in ring.derivatives(self.shape, &all, &columns, &amplitudes) {
                let Some(k) = self.free.iter().position(|f| *f == at) else { continue };
                for (n, v) in projection.residual(&ring.clear(&slope)).iter().enumerate() {
                    out.row_mut(row + n)[k] = -v / ring.noise;
                }
            }
            row += ring.samples.len();
        }
        for prior in self.priors {
            if let Some(k) = self.free.iter().position(|f| *f == prior.at) {
                out.row_mut(row)[k] = 1.0 / prior.deviation;
            }
            row += 1;
        }
    }
}
