//! Where the uncertainty of the fitted figures comes from.
//!
//! Every source is carried as a change of the fit's parameters for one standard uncertainty, by the fit's own linear
//! map, so that figures and the fitted curve share one budget (JCGM 100:2008, 5.1). Sources: noise (scatter of the
//! points), the jig's (resistor, gains, leads, loading), temperature, travel, misfit (what the fit leaves over, taken
//! in blocks of half an octave because its neighbours are alike: the sandwich estimate), and the other models.

use super::equivalent_circuit::Circuit;
use super::impedance_fit::FittedCircuit;
use super::model_choice::Choice;
use crate::electrical::copper::{temperature_uncertainty_k, COPPER_PER_KELVIN};
use crate::electrical::impedance::ImpedancePoint;
use crate::electrical::jig::{Jig, JigSource};
use crate::math::budget::{covariance, propagate, root_rows, sensitivities, Source};
use crate::math::fft::Complex64;
use crate::math::matrix::Matrix;
use crate::math::quantiles::student_t;
use crate::signal::reading::Figure;
use std::collections::BTreeMap;

/// Relative standard uncertainty of f_s by the cone's travel at measuring levels; simulated drivers with a progressive
/// suspension moved by up to 0.07 % (no outside source).
const TRAVEL_RELATIVE: f64 = 3e-4;
/// Step of numeric derivatives of the figures, in logarithms.
const STEP: f64 = 1e-4;

/// Everything that makes the fitted parameters uncertain.
#[derive(Clone, Debug)]
pub struct FitBudget {
    /// The sources, as changes of the fit's parameters.
    pub sources: Vec<Source>,
    /// Root mean square differences of the figures from those of other models, already scaled: name of source, name of
    /// figure, difference.
    pub models: Vec<(&'static str, BTreeMap<String, f64>)>,
}

/// Figures of a circuit by name, in SI.
pub fn figures_of(circuit: &Circuit) -> Vec<(&'static str, f64)> {
    let mut figures = vec![
        ("f_s_hz", circuit.f_s_hz),
        ("q_ms", circuit.q_ms),
        ("q_es", circuit.q_es),
        ("q_ts", circuit.q_ts()),
        ("r_e_ohm", circuit.r_e_ohm),
        ("z_max_ohm", circuit.peak().1),
    ];
    figures.extend(circuit.coil.named_values());
    figures.extend(circuit.creep.map(|creep| ("creep", creep)));
    figures
}

/// Collects the sources of a chosen fit. `repeat` holds the parameters of each take by itself where there are several.
pub fn collect(
    choice: &Choice,
    points: &[ImpedancePoint],
    jig: &Jig,
    jig_sources: &[JigSource],
    repeat: &[Vec<f64>],
) -> FitBudget {
    let fit = &choice.best;
    let noise = Source::new("noise", false, noise_changes(fit, points), f64::INFINITY);
    let mut sources = vec![noise];
    for source in jig_sources {
        let change: Vec<Complex64> =
            points.iter().map(|p| jig.change_ohm(p.frequency_hz, p.z_ohm, &source.shift)).collect();
        sources.push(Source::new(source.name, true, vec![fit.parameter_change(&change)], f64::INFINITY));
    }
    sources.extend(of_the_moment(fit.sensitivity.rows()));
    if fit.excess > 0.0 {
        let changes = misfit_changes(fit, points);
        let freedom = (2.0 * changes.len() as f64 - fit.sensitivity.rows() as f64).max(1.0);
        sources.push(Source::new("misfit", false, changes, freedom));
    }
    if repeat.len() > 1 {
        let freedom = repeat.len() as f64 - 1.0;
        sources.push(Source::new("repeat", false, repeat_changes(repeat), freedom));
    }
    sources.retain(|s| s.changes.iter().flatten().any(|c| *c != 0.0));
    let mut models = Vec::new();
    if fit.excess > 0.0 {
        models.push(("coil_model", spread(fit, &choice.other_coils)));
        models.push(("suspension_model", spread(fit, choice.other_suspension.as_slice())));
        models.retain(|(_, differences)| !differences.is_empty());
    }
    FitBudget { sources, models }
}

/// Figures with their budgets.
pub fn figures(circuit: &Circuit, budget: &FitBudget) -> BTreeMap<String, Figure> {
    let (names, values): (Vec<&str>, Vec<f64>) = figures_of(circuit).into_iter().unzip();
    let mut out = BTreeMap::new();
    for (name, mut figure) in names.into_iter().zip(propagate(&values, &slopes(circuit), &budget.sources)) {
        for (source, differences) in &budget.models {
            figure.add(source, differences.get(name).copied().unwrap_or(0.0), false, f64::INFINITY);
        }
        let factor = coverage_factor(figure.degrees_of_freedom());
        out.insert(name.to_owned(), Figure::from_budget(figure, factor));
    }
    out
}

/// Two-sided 95 %: Student's t for the freedom of the whole; scatter is pooled over hundreds of degrees of freedom and
/// counts as well known.
fn coverage_factor(degrees_of_freedom: f64) -> f64 {
    match degrees_of_freedom {
        dof if dof < 1e4 => student_t(0.975, dof.max(1.0)),
        _ => 1.96,
    }
}

/// Standard uncertainty of the fitted modulus at `hz`, in Ω.
pub fn curve_uncertainty_ohm(circuit: &Circuit, budget: &FitBudget, hz: f64) -> f64 {
    let mut out = [Complex64::default(); super::equivalent_circuit::MOST_PARAMETERS];
    let z = circuit.impedance_with_derivatives(hz, &mut out);
    let direction = z.conj() / z.norm().max(f64::MIN_POSITIVE);
    let slope: Vec<f64> = out.iter().take(circuit.parameters().len()).map(|d| (d * direction).re).collect();
    covariance(&Matrix::from_rows(&[slope]), &budget.sources)[(0, 0)].sqrt()
}

/// Derivatives of each figure by each parameter.
fn slopes(circuit: &Circuit) -> Matrix {
    let (model, parameters) = (circuit.model(), circuit.parameters());
    let values = |p: &[f64]| figures_of(&Circuit::from_parameters(model, p)).into_iter().map(|f| f.1).collect();
    sensitivities(&parameters, &vec![STEP; parameters.len()], values)
}

/// One independent change a point would be many; the square root of the summed covariance says the same in few.
fn noise_changes(fit: &FittedCircuit, points: &[ImpedancePoint]) -> Vec<Vec<f64>> {
    let n = fit.sensitivity.rows();
    let mut covariance = Matrix::zeros(n, n);
    for (i, point) in points.iter().enumerate() {
        for column in [2 * i, 2 * i + 1] {
            for a in 0..n {
                for b in 0..n {
                    covariance[(a, b)] +=
                        fit.sensitivity[(a, column)] * fit.sensitivity[(b, column)] * 0.5 * point.variance_ohm2;
                }
            }
        }
    }
    root_rows(&covariance)
}

/// Temperature of the coil and travel of the cone, which no method of reading sees; `parameters` of the fit.
pub fn of_the_moment(parameters: usize) -> [Source; 2] {
    // R_e and Q_es follow the copper; R_es = R_e Q_ms/Q_es, a property of magnet and suspension, does not.
    let (mut temperature, mut travel) = (vec![0.0; parameters], vec![0.0; parameters]);
    // No reading knows the coil's temperature; a pair measured in the same room on the same day shares it.
    let warmer = COPPER_PER_KELVIN * temperature_uncertainty_k(false);
    temperature[2] = warmer;
    temperature[3] = warmer;
    // The suspension is softer in motion than at rest; one take at one level cannot tell by how much.
    travel[0] = TRAVEL_RELATIVE;
    [
        Source::new("temperature", true, vec![temperature], f64::INFINITY),
        Source::new("travel", false, vec![travel], f64::INFINITY),
    ]
}

fn misfit_changes(fit: &FittedCircuit, points: &[ImpedancePoint]) -> Vec<Vec<f64>> {
    let n = fit.sensitivity.rows();
    let block_of = |hz: f64| (2.0 * (hz / points[0].frequency_hz).log2()).floor() as usize;
    // Points rise in frequency: those of a block stand together.
    let mut blocks: Vec<Vec<f64>> = Vec::new();
    let mut last = usize::MAX;
    for (i, point) in points.iter().enumerate() {
        let block = block_of(point.frequency_hz);
        if block != last {
            blocks.push(vec![0.0; n]);
            last = block;
        }
        let residual = fit.residuals_ohm[i];
        let change = blocks.last_mut().into_iter().flatten().enumerate();
        for (k, value) in change {
            *value += fit.sensitivity[(k, 2 * i)] * residual.re + fit.sensitivity[(k, 2 * i + 1)] * residual.im;
        }
    }
    // The fit has used up its parameters' worth of freedom among the blocks (two components each).
    let freedom = 2.0 * blocks.len() as f64;
    let scale = (freedom / (freedom - n as f64).max(1.0)).sqrt();
    blocks.into_iter().map(|c| c.iter().map(|v| v * scale).collect()).collect()
}

/// Takes by themselves scatter around their mean by s: the mean is uncertain by s/√n.
fn repeat_changes(repeat: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = repeat.len() as f64;
    let scale = 1.0 / (n * (n - 1.0)).sqrt();
    let mean: Vec<f64> = (0..repeat[0].len()).map(|k| repeat.iter().map(|r| r[k]).sum::<f64>() / n).collect();
    repeat.iter().map(|r| r.iter().zip(&mean).map(|(v, m)| (v - m) * scale).collect()).collect()
}

/// Differences of the figures from those of models that lost. A model that misses the curve k times as far counts 1/k:
/// what a figure owes to the model's error is taken as proportional to that error.
fn spread(best: &FittedCircuit, others: &[FittedCircuit]) -> BTreeMap<String, f64> {
    let own = figures_of(&best.circuit);
    let mut worst: BTreeMap<String, f64> = BTreeMap::new();
    for other in others {
        let weight = (best.excess / other.excess.max(best.excess)).min(1.0);
        // The first six are the same figures in every model, in the same order.
        for ((name, value), (_, own)) in figures_of(&other.circuit).into_iter().zip(&own).take(6) {
            let difference = weight * (value - own).abs();
            let known = worst.get(name).copied().unwrap_or(0.0);
            worst.insert(name.to_owned(), known.max(difference));
        }
    }
    worst
}
