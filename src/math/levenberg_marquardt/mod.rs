//! Nonlinear least squares: Levenberg-Marquardt with QR, scaled columns, and a report that says why it stopped.
//!
//! Minimises |r(p)|² for residuals r and their Jacobian J. Each iteration factors J once; trial steps solve the damped
//! problem on the small triangular factor. Damping follows the gain ratio (Nielsen's rule); references: Marquardt 1963;
//! Madsen, Nielsen and Tingleff, Methods for Non-Linear Least Squares Problems, 2004.

mod report;

pub use report::{Options, Report, StopReason};

use super::least_squares::{column_norms, Factors};
use super::matrix::Matrix;
use report::Counts;

/// A least-squares problem with analytic derivatives.
pub trait Problem {
    /// Fills `out` (empty when called) with the residuals at `p`, always equally many. False: `p` cannot be evaluated.
    fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool;

    /// Fills `out`, which comes zeroed in the shape residuals × parameters, with ∂r_i/∂p_j.
    fn jacobian(&self, p: &[f64], out: &mut Matrix);
}

/// Where the search stands.
#[derive(Clone)]
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
    /// Part of the residual that lies in the plane of the derivatives.
    relative_offset: f64,
}

/// A trial step and what the linear model promises of it.
struct Trial {
    step: Vec<f64>,
    predicted_gain: f64,
    scaled_length: f64,
}

/// Damping of the first step, against the squared lengths of the columns: nearly the undamped step, or a hundredth of it.
const BOLD: f64 = 1e-3;
const CAUTIOUS: f64 = 1e2;
/// A scale follows its column down by this factor an iteration at most: a column that vanishes for a moment must not set
/// its parameter free at once.
const SCALE_MEMORY: f64 = 0.9;
/// A column this much shorter than it once was has vanished: its parameter has run to where it has no effect.
const VANISHED: f64 = 1e-6;
/// Gain against the residual sum that rounding hides.
const HIDDEN_GAIN: f64 = 8.0 * f64::EPSILON;
/// A polishing step may lift the residual sum by this part: what a step so small changes in truth is 10⁻¹⁵ of it, but
/// residuals are differences of large numbers, and their rounding shows in the sum long before it shows in the offset.
const POLISHING_RISE: f64 = 1e-9;
/// Undamped steps at most that bring the last digits.
const POLISHING_STEPS: usize = 20;

/// Fits from `start`. Never fails: look at [`Report::stop`].
pub fn fit(problem: &dyn Problem, start: &[f64], options: &Options) -> Report {
    match searched(problem, start, options) {
        Ok(search) => search.report(),
        Err(reason) => Report::not_begun(start, reason),
    }
}

/// The parameters at which a fit ends, and why, for those who need no errors: what a report adds costs as much as an
/// iteration.
pub fn minimum(problem: &dyn Problem, start: &[f64], options: &Options) -> (Vec<f64>, StopReason) {
    match searched(problem, start, options) {
        Ok(search) => (search.point.p, search.stop),
        Err(reason) => (start.to_vec(), reason),
    }
}

/// A bold search comes first. Where it does not converge, or ends in a flat place where a parameter has lost its effect, a
/// cautious one follows from the same start, and the lower residual sum counts.
fn searched<'a>(problem: &'a dyn Problem, start: &[f64], options: &'a Options) -> Result<Search<'a>, StopReason> {
    if start.is_empty() {
        return Err(StopReason::TooFewResiduals);
    }
    let mut evaluations = 0;
    let first = evaluate(problem, start.to_vec(), &mut evaluations).ok_or(StopReason::StartNotEvaluable)?;
    if first.r.len() < start.len() {
        return Err(StopReason::TooFewResiduals);
    }
    let mut bold = Search::new(problem, options, first.clone()).run(BOLD);
    bold.evaluations += evaluations;
    if bold.stop.converged() && !bold.vanished() {
        return Ok(bold);
    }
    let cautious = Search::new(problem, options, first).run(CAUTIOUS);
    let evaluations = bold.evaluations + cautious.evaluations;
    let mut better = if cautious.point.cost < bold.point.cost { cautious } else { bold };
    better.evaluations = evaluations;
    Ok(better)
}

/// One search from one start.
struct Search<'a> {
    problem: &'a dyn Problem,
    options: &'a Options,
    point: Point,
    jacobian: Matrix,
    /// Lengths by which parameters are scaled, and the greatest lengths seen.
    scales: Vec<f64>,
    longest: Vec<f64>,
    iterations: usize,
    evaluations: usize,
    stop: StopReason,
}

impl<'a> Search<'a> {
    fn new(problem: &'a dyn Problem, options: &'a Options, point: Point) -> Self {
        let n = point.p.len();
        let (scales, longest) = (vec![0.0; n], vec![0.0; n]);
        let stop = StopReason::IterationsUsedUp;
        Search {
            problem,
            options,
            point,
            jacobian: Matrix::default(),
            scales,
            longest,
            iterations: 0,
            evaluations: 0,
            stop,
        }
    }

    fn run(mut self, first_damping: f64) -> Self {
        let mut damping = first_damping;
        while self.iterations < self.options.iterations_at_most {
            self.iterations += 1;
            let local = linearise(self.problem, &self.point, &mut self.jacobian);
            for ((scale, longest), norm) in self.scales.iter_mut().zip(&mut self.longest).zip(&local.norms) {
                *scale = norm.max(SCALE_MEMORY * *scale);
                *longest = norm.max(*longest);
            }
            match self.step(&local, damping) {
                Ok(next_damping) => damping = next_damping,
                Err(reason) => {
                    self.stop = reason;
                    break;
                }
            }
        }
        if matches!(self.stop, StopReason::StepSmall | StopReason::GainSmall) {
            self.polish();
        }
        self
    }

    /// One step that lowers the residual sum, with the damping for the next one; or the reason why there is none.
    fn step(&mut self, local: &Local, mut damping: f64) -> Result<f64, StopReason> {
        if self.point.cost == 0.0 {
            return Err(StopReason::Exact);
        }
        if local.relative_offset <= self.options.gradient_tolerance {
            return Err(StopReason::GradientSmall);
        }
        let mut growth = 2.0;
        loop {
            let trial = damped_step(local, &self.scales, damping);
            if trial.predicted_gain <= HIDDEN_GAIN * self.point.cost {
                return Err(StopReason::GainSmall);
            }
            if trial.scaled_length <= self.options.step_tolerance * scaled_length(&self.point.p, &self.scales) {
                return Err(StopReason::StepSmall);
            }
            let moved = self.point.p.iter().zip(&trial.step).map(|(p, s)| p + s).collect();
            if let Some(next) = evaluate(self.problem, moved, &mut self.evaluations) {
                let gain = (self.point.cost - next.cost) / trial.predicted_gain;
                if gain > 1e-4 {
                    self.point = next;
                    return Ok((damping * (1.0 - (2.0 * gain - 1.0).powi(3)).max(1.0 / 3.0)).max(1e-15));
                }
            }
            damping *= growth;
            growth *= 2.0;
        }
    }

    /// Where rounding hides the gain, the offset still tells the way: undamped steps as long as they lower it.
    fn polish(&mut self) {
        let mut local = linearise(self.problem, &self.point, &mut self.jacobian);
        for _ in 0..POLISHING_STEPS {
            if local.relative_offset <= self.options.gradient_tolerance {
                self.stop = StopReason::GradientSmall;
                return;
            }
            let trial = damped_step(&local, &self.scales, 0.0);
            let moved = self.point.p.iter().zip(&trial.step).map(|(p, s)| p + s).collect();
            let Some(next) = evaluate(self.problem, moved, &mut self.evaluations) else { return };
            if next.cost > self.point.cost * (1.0 + POLISHING_RISE) {
                return;
            }
            let there = linearise(self.problem, &next, &mut self.jacobian);
            if there.relative_offset > 0.9 * local.relative_offset {
                return;
            }
            (self.point, local) = (next, there);
            self.iterations += 1;
        }
    }

    /// True when a parameter has run to where it has no effect any more.
    fn vanished(&self) -> bool {
        let norms = column_norms(&self.jacobian);
        norms.iter().zip(&self.longest).any(|(norm, longest)| *norm < VANISHED * longest)
    }

    fn report(self) -> Report {
        let evaluations = self.evaluations;
        let mut jacobian = self.jacobian;
        jacobian.reset(self.point.r.len(), self.point.p.len());
        self.problem.jacobian(&self.point.p, &mut jacobian);
        Report::new(
            &jacobian,
            self.point.p,
            self.point.r,
            Counts { iterations: self.iterations, evaluations },
            self.stop,
        )
    }
}

/// Residuals and cost at `p`, none where the problem cannot be evaluated or is not finite there.
fn evaluate(problem: &dyn Problem, p: Vec<f64>, evaluations: &mut usize) -> Option<Point> {
    *evaluations += 1;
    let mut r = Vec::new();
    if !p.iter().all(|v| v.is_finite()) || !problem.residuals(&p, &mut r) {
        return None;
    }
    let cost: f64 = r.iter().map(|v| v * v).sum();
    cost.is_finite().then_some(Point { p, r, cost })
}

fn linearise(problem: &dyn Problem, point: &Point, jacobian: &mut Matrix) -> Local {
    jacobian.reset(point.r.len(), point.p.len());
    problem.jacobian(&point.p, jacobian);
    let factors = Factors::new(jacobian);
    let norms = factors.lengths().to_vec();
    let mut rotated = factors.rotate(&point.r);
    rotated.truncate(norms.len());
    let tangential: f64 = rotated[..factors.rank()].iter().map(|v| v * v).sum();
    let relative_offset = if point.cost > 0.0 { (tangential / point.cost).sqrt() } else { 0.0 };
    Local { root: factors.root(), rotated, norms, relative_offset }
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
