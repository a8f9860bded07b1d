//! Which voice coil, and whether the suspension creeps: every candidate is fitted, the information criterion decides.
//!
//! Bayesian information criterion, −2 ln likelihood + parameters·ln(data), with the model error m of each candidate at
//! its own best value (Schwarz 1978, from memory). The candidates that lost are kept: their distance from the winner
//! is a contribution to the budget.

use super::coil::CoilModel;
use super::equivalent_circuit::{Circuit, CircuitModel};
use super::impedance_fit::{fit_circuit, FittedCircuit};
use super::starting_values::{first_guess, Peak};
use crate::electrical::impedance::ImpedancePoint;
use crate::math::order::arranged;

/// The winner and the candidates that lost.
#[derive(Clone, Debug)]
pub struct Choice {
    /// Best by the criterion.
    pub best: FittedCircuit,
    /// Same suspension, other voice coils.
    pub other_coils: Vec<FittedCircuit>,
    /// Same voice coil, the other suspension, where it was tried and is physical.
    pub other_suspension: Option<FittedCircuit>,
}

/// Fits and chooses. `coil` none: all three compete; `creep` none: with and without compete.
/// None where no candidate could be fitted.
pub fn choose(points: &[ImpedancePoint], peak: &Peak, coil: Option<CoilModel>, creep: Option<bool>) -> Option<Choice> {
    let start_with_creep = creep == Some(true);
    let fits: Vec<FittedCircuit> = CoilModel::ALL
        .into_iter()
        .filter_map(|model| {
            let model = CircuitModel { coil: model, creep: start_with_creep };
            fit_circuit(points, &first_guess(points, peak, model))
        })
        .filter(physical)
        .collect();
    let mut fits = arranged(fits, |fit| fit.criterion);
    let first = fits.iter().position(|f| coil.is_none_or(|wanted| f.circuit.coil.model() == wanted))?;
    let plain = fits.remove(first);
    if creep.is_some() {
        return Some(Choice { best: plain, other_coils: fits, other_suspension: None });
    }
    let creeping = fit_circuit(points, &Circuit { creep: Some(0.05), ..plain.circuit }).filter(physical);
    Some(match creeping {
        Some(creeping) if creeping.criterion < plain.criterion => {
            let other_coils = fits.iter().filter_map(|f| with_creep(points, f, &creeping)).collect();
            Choice { best: creeping, other_coils, other_suspension: Some(plain) }
        }
        other_suspension => Choice { best: plain, other_coils: fits, other_suspension },
    })
}

/// The same coil again, now with the creep that won.
fn with_creep(points: &[ImpedancePoint], fit: &FittedCircuit, winner: &FittedCircuit) -> Option<FittedCircuit> {
    fit_circuit(points, &Circuit { creep: winner.circuit.creep, ..fit.circuit }).filter(physical)
}

/// Creep may neither stiffen with time nor lose more than the whole loss at f_s, and f_s, the Q's and R_e (logarithms)
/// must be told apart by the curve.
fn physical(fit: &FittedCircuit) -> bool {
    let share = fit.circuit.creep_share_of_loss();
    let told_apart = fit.parameter_errors.iter().take(4).all(|e| *e < UNDETERMINED);
    told_apart && (fit.circuit.creep.is_none() || (0.0..=1.0).contains(&share))
}

/// Relative standard error above which a candidate does not determine a figure.
const UNDETERMINED: f64 = 0.3;
