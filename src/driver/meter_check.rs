//! The check by meter: from typed voltages to figures, a curve and warnings, or to a refusal.
//!
//! Tones one at a time through a known resistor; at each the same meter reads the driver's volts and those across the
//! resistor (or across both). Its errors of gain and frequency cancel in the ratio; what is left, the display and the
//! other sources, goes into the budget. Units SI. Valid for one driver in free air at small signals.

use super::impedance_budget::{figures, FitBudget};
use super::impedance_curves::fitted_between;
use super::meter_budget::sources;
use super::meter_fit::{display_uncertainty, fit, tells_the_coil, MeterFit};
use super::meter_judge as judge;
use super::meter_setup::MeterSetup;
use super::meter_slips as slips;
use crate::electrical::meter_reading::log_ratio_slopes;
use crate::math::order::{by_name, order};
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{Curve, Figure, Outcome, Reading};
use crate::signal::role_take::{RoleTake, SetupError};

const CHECK: &str = "meter";
const METHOD: &str = "ratios of typed voltages, circuit by weighted least squares";

/// Reads the typed voltages; `takes` must be empty.
///
/// # Errors
/// [`SetupError`] for a setup that cannot be used; readings that cannot answer are a refused [`Reading`].
pub fn analyse(setup: &MeterSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    setup.check()?;
    if !takes.is_empty() {
        return Err(SetupError::new("takes", "is of no use in the check by meter, which reads typed voltages"));
    }
    let mut reading = Reading::new(CHECK, METHOD);
    if let Err(notice) = read(setup, &mut reading) {
        reading.values.clear();
        reading.outcome = Outcome::Refused;
        reading.refusal = Some(*notice);
    }
    Ok(reading)
}

/// What the readings so far contradict, as soon as there are enough of them: a slipped digit, two readings exchanged.
pub fn contradiction(setup: &MeterSetup) -> Option<Notice> {
    slips::find(setup, fit(setup, &setup.readings).as_ref())
}

fn read(setup: &MeterSetup, reading: &mut Reading) -> Result<(), Box<Notice>> {
    reading.curves.insert("impedance".to_owned(), points(setup, None));
    judge::before_the_fit(setup)?;
    let full = fit(setup, &setup.readings);
    if let Err(notice) = judge::shape(setup, full.as_ref()) {
        // One slipped digit can spoil the shape: it is the better reason where it is one.
        return Err(slips::find(setup, full.as_ref()).map_or(notice, Box::new));
    }
    if let Some(slip) = slips::find(setup, full.as_ref()) {
        return Err(Box::new(slip));
    }
    let found = full.ok_or_else(|| Box::new(Notice::new(Code::ModelMisfit, &[])))?;
    reading.curves.insert("impedance".to_owned(), points(setup, Some(&found)));
    let budget = FitBudget { sources: sources(setup, &found), models: Vec::new() };
    reading.values = figures(&found.circuit, &budget);
    coil(&found, reading);
    judge::after_the_fit(setup, &found, reading)?;
    let hz = setup.readings.iter().map(|r| r.frequency_hz);
    let ends = (hz.clone().fold(f64::INFINITY, f64::min), hz.fold(0.0, f64::max));
    reading.curves.insert("fit".to_owned(), fitted_between(&found.circuit, &budget, ends));
    Ok(())
}

/// What the readings say of the coil: n and K are figures only where the readings tell them.
fn coil(found: &MeterFit, reading: &mut Reading) {
    let told = tells_the_coil(found);
    for name in ["k_ohm_s_n", "n"] {
        if let Some(figure) = reading.values.get_mut(name).filter(|_| !told) {
            let reason =
                "these readings do not tell it: it is what is usual for a voice coil, and its spread is in the \
                          other figures";
            *figure = Figure::without_uncertainty(figure.value, reason);
        }
    }
    let by = if told { "readings" } else { "usual_values" };
    let chosen = [("coil_model", "semi_inductance"), ("coil_exponent_by", by), ("suspension_creep", "true")];
    reading.chosen.extend(chosen.map(|(name, value)| (name.to_owned(), value.to_owned())));
}

/// Each reading as a modulus: `number` in the order typed, `frequency_hz`, `magnitude_ohm`,
/// `magnitude_standard_uncertainty_ohm` by the meter. Across both, the phase is the circuit's.
fn points(setup: &MeterSetup, found: Option<&MeterFit>) -> Curve {
    let r_ohm = setup.series_resistor_ohm;
    let mut rows = Vec::new();
    for (i, reading) in setup.readings.iter().enumerate() {
        let z = found.map(|f| f.circuit.impedance(reading.frequency_hz));
        let Some(ohm) = reading.magnitude_ohm(r_ohm, z.map_or(0.0, |z| z.arg())) else { continue };
        // How much ln |Z| moves with the ln ratio, at this phase.
        let lever = z.map_or(1.0, |z| (log_ratio_slopes(reading.across(), z, r_ohm).0 * z).re);
        let uncertainty = found.map_or_else(|| display_uncertainty(setup, reading), |f| f.scale[i]);
        rows.push([i as f64 + 1.0, reading.frequency_hz, ohm, ohm * uncertainty / lever.abs().max(1e-3)]);
    }
    let rising = order(&rows.iter().map(|row: &[f64; 4]| row[1]).collect::<Vec<_>>());
    let names = ["number", "frequency_hz", "magnitude_ohm", "magnitude_standard_uncertainty_ohm"];
    let column = |k: usize| -> Vec<f64> { rising.iter().map(|i| rows[*i][k]).collect() };
    by_name(names.into_iter().enumerate().map(|(k, name)| (name, column(k))))
}
