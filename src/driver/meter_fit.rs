//! Weighted least squares of the equivalent circuit on a few ratios of typed voltages.
//!
//! Unknown: ln f_s, ln Q_ms, ln Q_es, ln R_e, the coil K(jω)^n, creep λ of the suspension, and δ, by which the series
//! resistor differs from its value (ln). Observed: ln of the ratio of volts at each frequency; the resistor's value; R_e by
//! ohms where read; and what is known of every driver beforehand, because nine tones cannot tell a coil from a
//! resistance: n, |K(jω)^n| at 1 kHz over R_e, and λ, each with a spread (common practice, no source). Readings that
//! do tell them overrule it; where they do not, the spread goes into every figure that leans on it.
//!
//! Variance of a ratio: rounding and counts of both voltages, and 2m², m being what is left of the meter's percentage
//! when its gain has cancelled. m is taken from the stated percentage, which counts as much as [`PRIOR_FREEDOM`] degrees
//! of freedom (a limit known to 40 %: JCGM 100:2008, G.4.2), pooled with what the residuals say.

use super::coil::{Coil, CoilModel, PIVOT_HZ};
use super::equivalent_circuit::{Circuit, CircuitModel, MOST_PARAMETERS};
use super::meter_setup::MeterSetup;
use crate::electrical::meter_reading::{log_ratio_of, log_ratio_slopes, MeterReading};
use crate::math::fft::Complex64;
use crate::math::levenberg_marquardt::{self as lm, Options};
use crate::math::matrix::Matrix;
use crate::math::order::order;
use std::f64::consts::TAU;

/// What the fit searches for.
pub const MODEL: CircuitModel = CircuitModel { coil: CoilModel::SemiInductance, creep: true };
/// Parameters: seven of the circuit, and δ.
const PARAMETERS: usize = 8;
const DELTA: usize = 7;
/// n of a voice coil: 0.75 ± 0.15 holds a lossless coil as well as a very lossy one.
const EXPONENT: (f64, f64) = (0.75, 0.15);
/// |K(jω)^n| at 1 kHz over R_e: about 0.45, a factor of 2.5 either way.
const COIL_SHARE: (f64, f64) = (0.45, 0.9);
/// Creep λ: 0.04 ± 0.04.
const CREEP: (f64, f64) = (0.04, 0.04);
/// Degrees of freedom that the stated percentage is worth.
pub const PRIOR_FREEDOM: f64 = 3.0;
/// Least m: no circuit of this kind follows a driver more closely. Common practice, no source.
const LEAST_RELATIVE_ERROR: f64 = 3e-4;
/// Rounds of fitting and weighing.
const ROUNDS_AT_MOST: usize = 10;

/// A fitted circuit with what is needed to judge it.
#[derive(Clone, Debug)]
pub struct MeterFit {
    /// The circuit.
    pub circuit: Circuit,
    /// m of the module's text.
    pub relative_error: f64,
    /// Degrees of freedom that the readings leave.
    pub freedom: f64,
    /// Covariance of the parameters.
    pub covariance: Matrix,
    /// Slopes of the observations by the parameters, each over its standard uncertainty; readings first.
    pub slopes: Matrix,
    /// Standard uncertainty of each reading's ln ratio.
    pub scale: Vec<f64>,
    /// Read minus fitted ln ratio.
    pub deviations: Vec<f64>,
    /// ln of the resistor over its stated value.
    pub resistor_shift: f64,
}

/// Prior observations behind the readings, by their row counted from the first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// The series resistor.
    Resistor,
    /// n.
    Exponent,
    /// Size of the coil.
    CoilShare,
    /// λ.
    Creep,
    /// R_e by ohms; only where it was read.
    Ohms,
}

impl Known {
    /// In the order of the rows.
    pub const ALL: [Known; 5] = [Known::Resistor, Known::Exponent, Known::CoilShare, Known::Creep, Known::Ohms];
}

impl MeterFit {
    /// Change of the parameters for one standard uncertainty of an observation; readings count from 0, then [`Known`].
    pub fn change(&self, row: usize) -> Vec<f64> {
        self.covariance.times_vector(self.slopes.row(row))
    }

    /// Slopes of the ln ratio of a reading by the parameters.
    pub fn slope(&self, reading: &MeterReading, r_ohm: f64) -> [f64; PARAMETERS] {
        slope_of(&self.circuit, reading, r_ohm * self.resistor_shift.exp())
    }

    /// ln ratio that the circuit expects of a reading, and the standard uncertainty by that of the circuit.
    pub fn expects(&self, reading: &MeterReading, r_ohm: f64) -> (f64, f64) {
        let slope = self.slope(reading, r_ohm);
        let r_ohm = r_ohm * self.resistor_shift.exp();
        let variance: f64 = self.covariance.times_vector(&slope).iter().zip(&slope).map(|(a, b)| a * b).sum();
        let z = self.circuit.impedance(reading.frequency_hz);
        (log_ratio_of(reading.across(), z, r_ohm), variance.max(0.0).sqrt())
    }
}

/// Fits `readings` (those of the setup, or a part of them). None where there is no minimum or nothing to begin with.
pub fn fit(setup: &MeterSetup, readings: &[MeterReading]) -> Option<MeterFit> {
    search(setup, readings, starts(setup, readings))
}

/// The same from the circuit of another fit, much faster where that one is not far.
pub fn fit_near(setup: &MeterSetup, readings: &[MeterReading], near: &MeterFit) -> Option<MeterFit> {
    search(setup, readings, vec![parameters(near)])
}

fn search(setup: &MeterSetup, readings: &[MeterReading], mut starts: Vec<Vec<f64>>) -> Option<MeterFit> {
    let mut relative_error = stated_error(setup);
    let mut last = None;
    for round in 0..ROUNDS_AT_MOST {
        let problem = MeterProblem { setup, readings, scale: scales(setup, readings, relative_error) };
        let reports = starts.iter().map(|start| lm::fit(&problem, start, &options()));
        let best = reports
            .filter(|r| r.stop.converged() && r.covariance.values().iter().all(|v| v.is_finite()))
            .min_by(|a, b| a.residual_sum_of_squares.total_cmp(&b.residual_sum_of_squares))?;
        let fit = finish(&problem, best, relative_error);
        let next = find_error(setup, readings, &fit);
        let settled = round > 0 && (next / relative_error - 1.0).abs() < 1e-4;
        starts = vec![parameters(&fit)];
        last = Some(fit);
        if settled {
            break;
        }
        relative_error = next;
    }
    last
}

/// m as the meter's percentage alone says.
pub fn stated_error(setup: &MeterSetup) -> f64 {
    setup.accuracy.relative_uncertainty().hypot(LEAST_RELATIVE_ERROR)
}

/// Standard uncertainty of a ln ratio by display (rounding, counts) alone.
pub fn display_uncertainty(setup: &MeterSetup, reading: &MeterReading) -> f64 {
    let share = |v: f64| setup.accuracy.display_uncertainty_v(v) / v;
    share(reading.driver_v).hypot(share(reading.other_v()))
}

fn options() -> Options {
    Options { iterations_at_most: 60, gradient_tolerance: 1e-7, step_tolerance: 1e-10 }
}

fn scales(setup: &MeterSetup, readings: &[MeterReading], relative_error: f64) -> Vec<f64> {
    let both = relative_error * 2f64.sqrt();
    readings.iter().map(|r| display_uncertainty(setup, r).hypot(both)).collect()
}

fn parameters(fit: &MeterFit) -> Vec<f64> {
    let mut p = fit.circuit.parameters();
    p.push(fit.resistor_shift);
    p
}

/// The highest readings as the resonance, each with three sharpnesses.
fn starts(setup: &MeterSetup, readings: &[MeterReading]) -> Vec<Vec<f64>> {
    let heights: Vec<(f64, f64)> = readings
        .iter()
        .filter_map(|r| Some((r.magnitude_ohm(setup.series_resistor_ohm, 0.0)?, r.frequency_hz)))
        .collect();
    let rising = order(&heights.iter().map(|h| h.0).collect::<Vec<_>>());
    let Some(lowest_ohm) = rising.first().map(|i| heights[*i].0) else { return Vec::new() };
    let r_e_ohm = setup.r_e_ohm.unwrap_or(0.95 * lowest_ohm);
    let start = |&(ohm, hz): &(f64, f64), q_ms: f64| {
        let q_es = q_ms / (1.1 * ohm / r_e_ohm - 1.0).max(0.05);
        let k_ohm_s_n = COIL_SHARE.0 * r_e_ohm / (TAU * PIVOT_HZ).powf(EXPONENT.0);
        let coil = Coil::SemiInductance { k_ohm_s_n, n: EXPONENT.0 };
        let mut p = Circuit { f_s_hz: hz, q_ms, q_es, r_e_ohm, coil, creep: Some(CREEP.0) }.parameters();
        p.push(0.0);
        p
    };
    rising.iter().rev().take(2).flat_map(|i| [1.5, 4.0, 9.0].map(|q| start(&heights[*i], q))).collect()
}

fn finish(problem: &MeterProblem<'_>, report: lm::Report, relative_error: f64) -> MeterFit {
    let mut slopes = Matrix::zeros(report.residuals.len(), PARAMETERS);
    lm::Problem::jacobian(problem, &report.parameters, &mut slopes);
    let covariance = report.covariance;
    // What a reading has left after the fit has leaned on it.
    let leverage = |i: usize| -> f64 {
        let row = slopes.row(i);
        covariance.times_vector(row).iter().zip(row).map(|(a, b)| a * b).sum()
    };
    let freedom = (0..problem.readings.len()).map(|i| 1.0 - leverage(i)).sum();
    MeterFit {
        circuit: Circuit::from_parameters(MODEL, &report.parameters),
        relative_error,
        freedom,
        deviations: report.residuals.iter().zip(&problem.scale).map(|(r, s)| -r * s).collect(),
        scale: problem.scale.clone(),
        resistor_shift: report.parameters[DELTA],
        covariance,
        slopes,
    }
}

/// The m at which residuals and stated percentage together come out as expected: Σ r²/(a² + 2m²) + ν₀ m₀²/m² = ν + ν₀.
fn find_error(setup: &MeterSetup, readings: &[MeterReading], fit: &MeterFit) -> f64 {
    let stated = stated_error(setup).powi(2);
    let rows: Vec<(f64, f64)> =
        readings.iter().zip(&fit.deviations).map(|(r, d)| (d * d, display_uncertainty(setup, r).powi(2))).collect();
    let wanted = fit.freedom.max(0.0) + PRIOR_FREEDOM;
    let sum = |m2: f64| rows.iter().map(|(r, a)| r / (a + 2.0 * m2)).sum::<f64>() + PRIOR_FREEDOM * stated / m2;
    // The sum falls steadily with m².
    let (mut low, mut high) = ((stated * 1e-3).ln(), 4.0);
    for _ in 0..60 {
        let middle: f64 = 0.5 * (low + high);
        if sum(middle.exp()) > wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    (0.25 * (low + high)).exp()
}

/// Slopes of the expected ln ratio by all parameters.
fn slope_of(circuit: &Circuit, reading: &MeterReading, r_ohm: f64) -> [f64; PARAMETERS] {
    let mut by_parameters = [Complex64::default(); MOST_PARAMETERS];
    let z = circuit.impedance_with_derivatives(reading.frequency_hz, &mut by_parameters);
    let (by_z, by_resistor) = log_ratio_slopes(reading.across(), z, r_ohm);
    let mut slope = [0.0; PARAMETERS];
    for (out, change) in slope.iter_mut().zip(&by_parameters[..DELTA]) {
        *out = (by_z * change).re;
    }
    slope[DELTA] = by_resistor;
    slope
}

/// Residuals: (expected − read ln ratio)/uncertainty, then what is known beforehand in the order of [`Known::ALL`].
struct MeterProblem<'a> {
    setup: &'a MeterSetup,
    readings: &'a [MeterReading],
    scale: Vec<f64>,
}

impl MeterProblem<'_> {
    fn resistor_ohm(&self, p: &[f64]) -> f64 {
        self.setup.series_resistor_ohm * p[DELTA].exp()
    }

    fn resistor_uncertainty(&self) -> f64 {
        self.setup.resistor_uncertainty().max(1e-6)
    }

    /// Bounds outside which no driver lies.
    fn evaluable(&self, p: &[f64]) -> bool {
        let by_hz = |a: &&MeterReading, b: &&MeterReading| a.frequency_hz.total_cmp(&b.frequency_hz);
        let low = self.readings.iter().min_by(by_hz).map_or(1.0, |r| r.frequency_hz);
        let high = self.readings.iter().max_by(by_hz).map_or(1.0, |r| r.frequency_hz);
        (0.3 * low..=3.0 * high).contains(&p[0].exp())
            && (0.05..=100.0).contains(&p[1].exp())
            && (1e-2..=1e3).contains(&p[2].exp())
            && (-12.0..=12.0).contains(&p[3])
            && (-12.0..=12.0).contains(&p[4])
            && (0.05..=1.5).contains(&p[5])
            && p[6].abs() < 0.25
    }
}

impl lm::Problem for MeterProblem<'_> {
    fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool {
        let circuit = Circuit::from_parameters(MODEL, p);
        let r_ohm = self.resistor_ohm(p);
        for (reading, s) in self.readings.iter().zip(&self.scale) {
            let z = circuit.impedance(reading.frequency_hz);
            out.push((log_ratio_of(reading.across(), z, r_ohm) - reading.log_ratio()) / s);
        }
        out.push(p[DELTA] / self.resistor_uncertainty());
        out.push((p[5] - EXPONENT.0) / EXPONENT.1);
        out.push((p[4] - p[3] - COIL_SHARE.0.ln()) / COIL_SHARE.1);
        out.push((p[6] - CREEP.0) / CREEP.1);
        out.extend(self.setup.ohms_reading().map(|(ohm, u)| (p[3] - ohm.ln()) / u));
        self.evaluable(p)
    }

    fn jacobian(&self, p: &[f64], out: &mut Matrix) {
        let circuit = Circuit::from_parameters(MODEL, p);
        let r_ohm = self.resistor_ohm(p);
        for (i, (reading, s)) in self.readings.iter().zip(&self.scale).enumerate() {
            for (cell, slope) in out.row_mut(i).iter_mut().zip(slope_of(&circuit, reading, r_ohm)) {
                *cell = slope / s;
            }
        }
        let row = self.readings.len();
        out[(row, DELTA)] = 1.0 / self.resistor_uncertainty();
        out[(row + 1, 5)] = 1.0 / EXPONENT.1;
        out[(row + 2, 4)] = 1.0 / COIL_SHARE.1;
        out[(row + 2, 3)] = -1.0 / COIL_SHARE.1;
        out[(row + 3, 6)] = 1.0 / CREEP.1;
        if let Some((_, u)) = self.setup.ohms_reading() {
            out[(row + 4, 3)] = 1.0 / u;
        }
    }
}

/// Whether the readings themselves, rather than what is known beforehand, tell n of the coil.
pub fn tells_the_coil(fit: &MeterFit) -> bool {
    fit.covariance[(5, 5)].sqrt() < 0.5 * EXPONENT.1
}
