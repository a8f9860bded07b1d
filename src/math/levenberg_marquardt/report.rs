//! What a fit says of itself.

use crate::math::least_squares::Factors;
use crate::math::matrix::Matrix;

/// When to stop.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Iterations (factored Jacobians) at most.
    pub iterations_at_most: usize,
    /// Part of the residual within the plane of the derivatives that counts as none (the relative offset of Bates and
    /// Watts). Each parameter is then within this times √(degrees of freedom) standard errors of the minimum.
    pub gradient_tolerance: f64,
    /// Scaled step relative to the scaled parameters below which nothing changes any more.
    pub step_tolerance: f64,
}

impl Default for Options {
    fn default() -> Self {
        Options { iterations_at_most: 200, gradient_tolerance: 1e-10, step_tolerance: 1e-13 }
    }
}

/// Why the fit stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StopReason {
    /// The residual is orthogonal to all derivatives: a minimum.
    GradientSmall,
    /// The step is at the limit of the arithmetic.
    StepSmall,
    /// The predicted gain is at the limit of the arithmetic.
    GainSmall,
    /// Residuals are zero.
    Exact,
    /// Iterations used up: not a result.
    IterationsUsedUp,
    /// The start cannot be evaluated, or gives values that are not finite.
    StartNotEvaluable,
    /// Fewer residuals than parameters, or no parameters.
    TooFewResiduals,
}

impl StopReason {
    /// By name, for what a reading was computed with.
    pub fn name(self) -> &'static str {
        match self {
            Self::GradientSmall => "gradient_small",
            Self::StepSmall => "step_small",
            Self::GainSmall => "gain_small",
            Self::Exact => "exact",
            Self::IterationsUsedUp => "iterations_used_up",
            Self::StartNotEvaluable => "start_not_evaluable",
            Self::TooFewResiduals => "too_few_residuals",
        }
    }

    /// True when the end point is a minimum as far as the arithmetic can tell.
    pub fn converged(self) -> bool {
        matches!(self, Self::GradientSmall | Self::StepSmall | Self::GainSmall | Self::Exact)
    }
}

/// Result of a fit of n parameters to m residuals.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// The n parameters at the end.
    pub parameters: Vec<f64>,
    /// The m residuals at the end.
    pub residuals: Vec<f64>,
    /// (JᵀJ)⁻¹ at the end, unscaled; all infinite where the Jacobian has a short rank.
    pub covariance: Matrix,
    /// |r|² at the end.
    pub residual_sum_of_squares: f64,
    /// m − n.
    pub degrees_of_freedom: usize,
    /// Independent columns of the Jacobian at the end.
    pub rank: usize,
    /// √(covariance · |r|²/(m − n)), infinite where undetermined.
    pub standard_errors: Vec<f64>,
    /// Correlations of the parameters.
    pub correlations: Matrix,
    /// Jacobians factored.
    pub iterations: usize,
    /// Residual vectors evaluated.
    pub evaluations: usize,
    /// Why it stopped.
    pub stop: StopReason,
}

/// How much work a fit was.
pub(super) struct Counts {
    pub iterations: usize,
    pub evaluations: usize,
}

impl Report {
    /// The report of a search that ended at parameters `p` with residuals `r` and this Jacobian.
    pub(super) fn new(jacobian: &Matrix, p: Vec<f64>, r: Vec<f64>, counts: Counts, stop: StopReason) -> Self {
        let factors = Factors::new(jacobian);
        let covariance = factors.covariance();
        let degrees_of_freedom = r.len() - p.len();
        let residual_sum_of_squares: f64 = r.iter().map(|v| v * v).sum();
        let variance = residual_sum_of_squares / degrees_of_freedom.max(1) as f64;
        let error = |c: f64| if c.is_finite() { (c * variance).sqrt() } else { f64::INFINITY };
        Report {
            standard_errors: (0..p.len()).map(|i| error(covariance[(i, i)])).collect(),
            correlations: covariance.correlations(),
            covariance,
            residual_sum_of_squares,
            degrees_of_freedom,
            rank: factors.rank(),
            parameters: p,
            residuals: r,
            iterations: counts.iterations,
            evaluations: counts.evaluations,
            stop,
        }
    }

    /// The report of a fit that could not begin.
    pub(super) fn not_begun(start: &[f64], stop: StopReason) -> Self {
        let n = start.len();
        let mut covariance = Matrix::zeros(n, n);
        (0..n).for_each(|i| covariance.row_mut(i).fill(f64::INFINITY));
        Report {
            parameters: start.to_vec(),
            residuals: Vec::new(),
            covariance,
            residual_sum_of_squares: f64::INFINITY,
            degrees_of_freedom: 0,
            rank: 0,
            standard_errors: vec![f64::INFINITY; n],
            correlations: Matrix::identity(n),
            iterations: 0,
            evaluations: 1,
            stop,
        }
    }
}
