//! Nonlinear least squares: Levenberg-Marquardt with QR, scaled columns, and a report that says why it stopped.
//!
//! Minimises |r(p)|² for residuals r and their Jacobian J. Each iteration factors J once; trial steps solve the damped
//! problem on the small triangular factor. Damping follows the gain ratio (Nielsen's rule); references: Marquardt 1963;
//! Madsen, Nielsen and Tingleff, Methods for Non-Linear Least Squares Problems, 2004.

use super::least_squares::{column_norms, Factors};
use super::matrix::Matrix;

/// A least-squares problem with analytic derivatives.
pub trait Problem {
    /// Fills `out` (empty when called) with the residuals at `p`, always equally many. False: `p` cannot be evaluated.
    fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool;

    /// Fills `out`, which comes zeroed in the shape residuals × parameters, with ∂r_i/∂p_j.
    fn jacobian(&self, p: &[f64], out: &mut Matrix);
}

/// When to stop.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Iterations (factored Jacobians) at most.
    pub iterations_at_most: usize,
    /// Largest cosine between the residual and a column of J that counts as a minimum. The distance from the minimum is
    /// then below this times √(degrees of freedom) standard errors.
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

/// Where the search stands.
struct Point {
    p: Vec<f64>,
    r: Vec<f64>,
    cost: f64,
}

/// The damped linear problem at one point.
struct Local {
    /// n × n with RᵀR = JᵀJ.
    root: Matrix,
    /// First n entries of Qᵀr.
    rotated: Vec<f64>,
    /// Length of each column of J.
    norms: Vec<f64>,
    largest_cosine: f64,
}

/// A trial step and what the linear model promises of it.
struct Trial {
    step: Vec<f64>,
    predicted_gain: f64,
    scaled_length: f64,
}

/// Fits from `start`. Never fails: look at [`Report::stop`].
pub fn fit(problem: &impl Problem, start: &[f64], options: &Options) -> Report {
    if start.is_empty() {
        return failed(start, StopReason::TooFewResiduals);
    }
    let mut evaluations = 0;
    let first = evaluate(problem, start.to_vec(), &mut evaluations);
    let Some(mut point) = first else {
        return failed(start, StopReason::StartNotEvaluable);
    };
    if point.r.len() < start.len() {
        return failed(start, StopReason::TooFewResiduals);
    }
    let mut jacobian = Matrix::default();
    let mut scales = vec![0.0_f64; start.len()];
    let (mut damping, mut growth) = (1e-3, 2.0);
    let mut stop = StopReason::IterationsUsedUp;
    let mut iterations = 0;
    'search: while iterations < options.iterations_at_most {
        iterations += 1;
        let local = linearise(problem, &point, &mut jacobian);
        if point.cost == 0.0 {
            stop = StopReason::Exact;
            break;
        }
        if local.largest_cosine <= options.gradient_tolerance {
            stop = StopReason::GradientSmall;
            break;
        }
        for (scale, norm) in scales.iter_mut().zip(&local.norms) {
            // A scale may shrink, but slowly: a column that vanishes for a moment must not free its parameter at once.
            *scale = norm.max(0.3 * *scale);
        }
        loop {
            let trial = damped_step(&local, &scales, damping);
            if trial.predicted_gain <= f64::EPSILON * f64::EPSILON * point.cost {
                stop = StopReason::GainSmall;
                break 'search;
            }
            if trial.scaled_length <= options.step_tolerance * scaled_length(&point.p, &scales) {
                stop = StopReason::StepSmall;
                break 'search;
            }
            let moved = point.p.iter().zip(&trial.step).map(|(p, s)| p + s).collect();
            let next = evaluate(problem, moved, &mut evaluations);
            let gain = next.as_ref().map_or(-1.0, |n| (point.cost - n.cost) / trial.predicted_gain);
            match next {
                Some(next) if gain > 1e-4 => {
                    damping = (damping * (1.0 - (2.0 * gain - 1.0).powi(3)).max(1.0 / 3.0)).max(1e-15);
                    growth = 2.0;
                    point = next;
                    continue 'search;
                }
                _ => {
                    damping *= growth;
                    growth *= 2.0;
                }
            }
        }
    }
    report(problem, point, iterations, evaluations, stop)
}

/// Residuals and cost at `p`, none where the problem cannot be evaluated or is not finite there.
fn evaluate(problem: &impl Problem, p: Vec<f64>, evaluations: &mut usize) -> Option<Point> {
    *evaluations += 1;
    let mut r = Vec::new();
    if !p.iter().all(|v| v.is_finite()) || !problem.residuals(&p, &mut r) {
        return None;
    }
    let cost: f64 = r.iter().map(|v| v * v).sum();
    cost.is_finite().then_some(Point { p, r, cost })
}

fn linearise(problem: &impl Problem, point: &Point, jacobian: &mut Matrix) -> Local {
    jacobian.reset(point.r.len(), point.p.len());
    problem.jacobian(&point.p, jacobian);
    let norms = column_norms(jacobian);
    let mut products = vec![0.0; norms.len()];
    for (i, r) in point.r.iter().enumerate() {
        for (product, j) in products.iter_mut().zip(jacobian.row(i)) {
            *product += r * j;
        }
    }
    let length = point.cost.sqrt();
    let cosine = |(g, n): (&f64, &f64)| if *n > 0.0 && length > 0.0 { (g / (n * length)).abs() } else { 0.0 };
    let largest_cosine = products.iter().zip(&norms).map(cosine).fold(0.0, f64::max);
    let factors = Factors::new(jacobian);
    let mut rotated = factors.rotate(&point.r);
    rotated.truncate(norms.len());
    Local { root: factors.root(), rotated, norms, largest_cosine }
}

/// Solves (JᵀJ + damping·D²) s = −Jᵀr through the triangular factor stacked on √damping·D.
fn damped_step(local: &Local, scales: &[f64], damping: f64) -> Trial {
    let n = scales.len();
    let mut stacked = Matrix::zeros(2 * n, n);
    for i in 0..n {
        stacked.row_mut(i).copy_from_slice(local.root.row(i));
        stacked[(n + i, i)] = damping.sqrt() * scales[i];
    }
    let mut right: Vec<f64> = local.rotated.iter().map(|v| -v).collect();
    right.resize(2 * n, 0.0);
    let factors = Factors::new(&stacked);
    let step = factors.back_substitute(&factors.rotate(&right));
    let linear: f64 = local.root.times_vector(&step).iter().map(|v| v * v).sum();
    let length = scaled_length(&step, scales);
    Trial { step, predicted_gain: linear + 2.0 * damping * length * length, scaled_length: length }
}

fn scaled_length(p: &[f64], scales: &[f64]) -> f64 {
    p.iter().zip(scales).map(|(p, d)| (p * d).powi(2)).sum::<f64>().sqrt()
}

fn report(problem: &impl Problem, point: Point, iterations: usize, evaluations: usize, stop: StopReason) -> Report {
    let (m, n) = (point.r.len(), point.p.len());
    let mut jacobian = Matrix::zeros(m, n);
    problem.jacobian(&point.p, &mut jacobian);
    let factors = Factors::new(&jacobian);
    let covariance = factors.covariance();
    let degrees_of_freedom = m - n;
    let variance = point.cost / degrees_of_freedom.max(1) as f64;
    let error = |c: f64| if c.is_finite() { (c * variance).sqrt() } else { f64::INFINITY };
    Report {
        standard_errors: (0..n).map(|i| error(covariance[(i, i)])).collect(),
        correlations: covariance.correlations(),
        covariance,
        residual_sum_of_squares: point.cost,
        degrees_of_freedom,
        rank: factors.rank(),
        parameters: point.p,
        residuals: point.r,
        iterations,
        evaluations,
        stop,
    }
}

/// A report of a fit that never began.
fn failed(start: &[f64], stop: StopReason) -> Report {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock's valley as two residuals: minimum (1, 1), cost 0.
    struct Valley;

    impl Problem for Valley {
        fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool {
            out.extend([10.0 * (p[1] - p[0] * p[0]), 1.0 - p[0]]);
            true
        }
        fn jacobian(&self, p: &[f64], out: &mut Matrix) {
            out.row_mut(0).copy_from_slice(&[-20.0 * p[0], 10.0]);
            out.row_mut(1).copy_from_slice(&[-1.0, 0.0]);
        }
    }

    /// √p against given values; not evaluable for negative p.
    struct Root(Vec<f64>);

    impl Problem for Root {
        fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool {
            out.extend(self.0.iter().map(|y| p[0].sqrt() - y));
            p[0] > 0.0
        }
        fn jacobian(&self, p: &[f64], out: &mut Matrix) {
            for i in 0..self.0.len() {
                out[(i, 0)] = 0.5 / p[0].sqrt();
            }
        }
    }

    /// Two parameters that only act as a sum.
    struct Sum;

    impl Problem for Sum {
        fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool {
            out.extend([p[0] + p[1] - 1.0, p[0] + p[1] - 1.2, p[0] + p[1] - 0.8]);
            true
        }
        fn jacobian(&self, _: &[f64], out: &mut Matrix) {
            (0..3).for_each(|i| out.row_mut(i).fill(1.0));
        }
    }

    #[test]
    fn the_curved_valley() {
        let report = fit(&Valley, &[-1.2, 1.0], &Options::default());
        assert!(report.stop.converged(), "{:?}", report.stop);
        assert!((report.parameters[0] - 1.0).abs() < 1e-10 && (report.parameters[1] - 1.0).abs() < 1e-10);
    }

    #[test]
    fn steps_back_from_where_it_cannot_be_evaluated() {
        let report = fit(&Root(vec![0.1, 0.12, 0.08]), &[25.0], &Options::default());
        assert!(report.stop.converged());
        assert!((report.parameters[0].sqrt() - 0.1).abs() < 1e-9);
        assert_eq!(fit(&Root(vec![1.0]), &[-1.0], &Options::default()).stop, StopReason::StartNotEvaluable);
    }

    #[test]
    fn undetermined_parameters_are_said_to_be_so() {
        let report = fit(&Sum, &[0.0, 0.0], &Options::default());
        assert!(report.stop.converged(), "{:?}", report.stop);
        assert_eq!(report.rank, 1);
        assert!(report.standard_errors.iter().all(|e| e.is_infinite()));
        assert!((report.parameters[0] + report.parameters[1] - 1.0).abs() < 1e-9);
    }

    #[test]
    fn too_few_residuals_and_used_up_iterations() {
        assert_eq!(fit(&Valley, &[], &Options::default()).stop, StopReason::TooFewResiduals);
        let short = Options { iterations_at_most: 2, ..Options::default() };
        assert_eq!(fit(&Valley, &[-1.2, 1.0], &short).stop, StopReason::IterationsUsedUp);
    }
}
