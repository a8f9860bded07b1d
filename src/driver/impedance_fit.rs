//! Weighted complex least squares of one equivalent circuit on an impedance curve.
//!
//! Minimises Σ |Z(f) − z|²/s² over logarithms of the values (Levenberg-Marquardt, analytic derivatives), with
//! s² = σ² + m²c²: σ² is the scatter of the point, m a relative error of the model, c² = |Z_coil|² + |Z_moving|² (R_e is
//! a resistor and has no such error). m is set so that the sum comes out as its expectation: zero where the scatter
//! explains the residual, so that the fit is then as sharp as the noise allows; where a real voice coil differs from
//! the model, the points at which the model is weak lose their weight instead of bending f_s and the Q's.
//! The result keeps the linear map from an error of the points to an error of the parameters, for the budget.

use super::equivalent_circuit::{Circuit, CircuitModel, MOST_PARAMETERS};
use crate::electrical::impedance::ImpedancePoint;
use crate::math::fft::Complex64;
use crate::math::levenberg_marquardt::{self as lm, Options, StopReason};
use crate::math::matrix::Matrix;
use std::f64::consts::TAU;

/// Rounds of fitting and re-weighting.
const ROUNDS_AT_MOST: usize = 6;
/// Scatter below this share of |Z| is not believed: the path's own resolution.
const LEAST_RELATIVE_SCATTER: f64 = 1e-6;

/// A fitted circuit with what is needed to judge it.
#[derive(Clone, Debug, PartialEq)]
pub struct FittedCircuit {
    /// The circuit.
    pub circuit: Circuit,
    /// Relative error m of the model beyond the scatter.
    pub excess: f64,
    /// Bayesian information criterion; smaller is better, differences count.
    pub criterion: f64,
    /// Mean of |residual|²/scatter² per degree of freedom; 1 where the scatter explains everything.
    pub reduced_chi_square: f64,
    /// Why the search ended.
    pub stop: StopReason,
    /// Standard errors of the parameters with the weights used.
    pub parameter_errors: Vec<f64>,
    /// Parameters × 2·points (real, imaginary): change of the parameters by a change of the points.
    pub sensitivity: Matrix,
    /// Measured minus fitted, in Ω.
    pub residuals_ohm: Vec<Complex64>,
}

impl FittedCircuit {
    /// Change of the fit's parameters when the points change by `change_ohm` (one entry a point).
    pub fn parameter_change(&self, change_ohm: &[Complex64]) -> Vec<f64> {
        let parts: Vec<f64> = change_ohm.iter().flat_map(|c| [c.re, c.im]).collect();
        self.sensitivity.times_vector(&parts)
    }
}

/// Fits `start`'s model to the points. None where the search ends without a minimum or values are undetermined.
pub fn fit_circuit(points: &[ImpedancePoint], start: &Circuit) -> Option<FittedCircuit> {
    if 2 * points.len() <= start.model().parameter_count() {
        return None;
    }
    let scatter: Vec<f64> = points.iter().map(believed_variance).collect();
    let mut circuit = *start;
    // A first round with one per cent keeps a poor start from being judged by a scatter of a thousandth of that.
    let mut excess = 0.01;
    let mut last = None;
    for round in 0..ROUNDS_AT_MOST {
        let problem =
            CircuitProblem { points, model: start.model(), scale: scales(&circuit, points, &scatter, excess) };
        let (parameters, stop) = lm::minimum(&problem, &circuit.parameters(), &options(round));
        circuit = Circuit::from_parameters(start.model(), &parameters);
        let next = find_excess(&circuit, points, &scatter);
        // m itself is known to 1/√(2·points), some per cent.
        let settled = round > 0 && (next - excess).abs() <= 0.04 * excess.max(1e-7);
        last = Some((problem, stop, excess));
        if settled || !stop.converged() {
            break;
        }
        excess = next;
    }
    let (problem, stop, excess) = last?;
    finish(points, &scatter, circuit, excess, &problem, stop)
}

fn options(round: usize) -> Options {
    // A cosine of 1e-6 is 1e-6·√1000 standard errors from the minimum. The first round only finds the weights.
    let gradient_tolerance = if round == 0 { 1e-3 } else { 1e-6 };
    Options { iterations_at_most: 60, gradient_tolerance, step_tolerance: 1e-10 }
}

fn believed_variance(p: &ImpedancePoint) -> f64 {
    p.variance_ohm2.max((LEAST_RELATIVE_SCATTER * p.z_ohm.norm()).powi(2))
}

/// c² of the module's text at one frequency.
fn model_part_ohm2(circuit: &Circuit, hz: f64) -> f64 {
    let coil = circuit.coil.impedance(TAU * hz);
    let moving = circuit.impedance(hz) - coil - circuit.r_e_ohm;
    coil.norm_sqr() + moving.norm_sqr()
}

/// s of one component (real or imaginary), in Ω.
fn scales(circuit: &Circuit, points: &[ImpedancePoint], scatter: &[f64], excess: f64) -> Vec<f64> {
    let total = |(p, s): (&ImpedancePoint, &f64)| s + excess.powi(2) * model_part_ohm2(circuit, p.frequency_hz);
    points.iter().zip(scatter).map(|pair| (0.5 * total(pair)).sqrt()).collect()
}

/// The m that makes Σ|residual|²/(σ² + m²c²) its expectation; zero where it is that already within three of its own
/// standard deviations.
fn find_excess(circuit: &Circuit, points: &[ImpedancePoint], scatter: &[f64]) -> f64 {
    let rows: Vec<(f64, f64, f64)> = points
        .iter()
        .zip(scatter)
        .map(|(p, s)| {
            let residual = (p.z_ohm - circuit.impedance(p.frequency_hz)).norm_sqr();
            (residual, *s, model_part_ohm2(circuit, p.frequency_hz))
        })
        .collect();
    let expected = points.len() as f64 - 0.5 * circuit.model().parameter_count() as f64;
    let sum = |m2: f64| rows.iter().map(|(r, s, c)| r / (s + m2 * c)).sum::<f64>();
    if sum(0.0) <= expected + 3.0 * expected.max(1.0).sqrt() {
        return 0.0;
    }
    // The sum falls steadily with m; bisection over the logarithm of m².
    let (mut low, mut high) = (-40.0f64, 4.0f64);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if sum(middle.exp()) > expected {
            low = middle;
        } else {
            high = middle;
        }
    }
    (0.25 * (low + high)).exp()
}

fn finish(
    points: &[ImpedancePoint],
    scatter: &[f64],
    circuit: Circuit,
    excess: f64,
    problem: &CircuitProblem<'_>,
    stop: StopReason,
) -> Option<FittedCircuit> {
    let parameters = circuit.parameters();
    let n = parameters.len();
    let mut jacobian = Matrix::zeros(2 * points.len(), n);
    lm::Problem::jacobian(problem, &parameters, &mut jacobian);
    let covariance = crate::math::least_squares::Factors::new(&jacobian).covariance();
    if !stop.converged() || !covariance.values().iter().all(|v| v.is_finite()) {
        return None;
    }
    let mut sensitivity = covariance.times(&jacobian.transposed());
    for k in 0..n {
        for (column, value) in sensitivity.row_mut(k).iter_mut().enumerate() {
            *value /= problem.scale[column / 2];
        }
    }
    let residuals_ohm: Vec<Complex64> = points.iter().map(|p| p.z_ohm - circuit.impedance(p.frequency_hz)).collect();
    let degrees = (points.len() as f64 - 0.5 * n as f64).max(0.5);
    let by_scatter: f64 = residuals_ohm.iter().zip(scatter).map(|(r, s)| r.norm_sqr() / s).sum();
    let deviance: f64 =
        residuals_ohm.iter().zip(&problem.scale).map(|(r, s)| r.norm_sqr() / (s * s) + 2.0 * (2.0 * s * s).ln()).sum();
    Some(FittedCircuit {
        circuit,
        excess,
        criterion: deviance + n as f64 * (2.0 * points.len() as f64).ln(),
        reduced_chi_square: by_scatter / degrees,
        stop,
        parameter_errors: (0..n).map(|k| covariance[(k, k)].sqrt()).collect(),
        sensitivity,
        residuals_ohm,
    })
}

/// The least-squares problem: residuals (model − measured)/s, real and imaginary in turn.
struct CircuitProblem<'a> {
    points: &'a [ImpedancePoint],
    model: CircuitModel,
    scale: Vec<f64>,
}

impl CircuitProblem<'_> {
    /// Bounds outside which no driver lies; they keep the search from running away.
    fn evaluable(&self, circuit: &Circuit) -> bool {
        let (low, high) = (self.points[0].frequency_hz, self.points[self.points.len() - 1].frequency_hz);
        let exponent_fits = match circuit.coil {
            super::coil::Coil::SemiInductance { n, .. } => (0.05..=1.0).contains(&n),
            _ => true,
        };
        (0.2 * low..=5.0 * high).contains(&circuit.f_s_hz)
            && (1e-2..=1e3).contains(&circuit.q_ms)
            && (1e-3..=1e3).contains(&circuit.q_es)
            && circuit.creep.unwrap_or(0.0).abs() < 0.3
            && exponent_fits
    }
}

impl lm::Problem for CircuitProblem<'_> {
    fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool {
        let circuit = Circuit::from_parameters(self.model, p);
        for (point, s) in self.points.iter().zip(&self.scale) {
            let difference = (circuit.impedance(point.frequency_hz) - point.z_ohm) / *s;
            out.extend([difference.re, difference.im]);
        }
        self.evaluable(&circuit)
    }

    fn jacobian(&self, p: &[f64], out: &mut Matrix) {
        let circuit = Circuit::from_parameters(self.model, p);
        let mut slopes = [Complex64::default(); MOST_PARAMETERS];
        for (i, (point, s)) in self.points.iter().zip(&self.scale).enumerate() {
            circuit.impedance_with_derivatives(point.frequency_hz, &mut slopes);
            let weight = 1.0 / s;
            for (value, slope) in out.row_mut(2 * i).iter_mut().zip(&slopes) {
                *value = slope.re * weight;
            }
            for (value, slope) in out.row_mut(2 * i + 1).iter_mut().zip(&slopes) {
                *value = slope.im * weight;
            }
        }
    }
}
