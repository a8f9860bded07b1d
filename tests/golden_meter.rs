//! The fit of typed voltages against SciPy: scipy.optimize.least_squares on two stored sets of readings, computed and
//! fitted from the definitions (`tests/golden/make_meter.py`).

#![allow(missing_docs)]

mod golden_files;

use conewright::driver::meter_check::analyse;
use conewright::driver::meter_fit::fit;
use conewright::driver::meter_setup::MeterSetup;
use golden_files::{golden, number, numbers};

/// The weights are converged to 1e-4 of the meter's error (and with them the standard errors); the search ends within
/// 1e-7·√13 standard errors of the minimum, which moves by at most 1e-4·√13 of one with the weights.
const ERRORS_RELATIVE: f64 = 2e-4;
const STANDARD_ERRORS: f64 = 1e-3;

#[test]
fn values_and_standard_errors_as_by_scipy() {
    let document = golden("meter.json");
    for set in document["sets"].as_array().expect("a list") {
        let setup: MeterSetup = serde_json::from_value(set["setup"].clone()).expect("a setup");
        let ours = fit(&setup, &setup.readings).expect("a fit");
        let (theirs, errors) = (numbers(&set["found"], "parameters"), numbers(&set["found"], "standard_errors"));
        let mut parameters = ours.circuit.parameters();
        parameters.push(ours.resistor_shift);
        for k in 0..parameters.len() {
            let (off, u) = ((parameters[k] - theirs[k]).abs(), ours.covariance[(k, k)].sqrt());
            assert!(off <= STANDARD_ERRORS * errors[k], "parameter {k}: {} and {}", parameters[k], theirs[k]);
            assert!((u / errors[k] - 1.0).abs() <= ERRORS_RELATIVE, "error {k}: {u} and {}", errors[k]);
        }
        assert!((ours.relative_error / number(&set["found"], "relative_error") - 1.0).abs() <= ERRORS_RELATIVE);
        // The figures hold the truth from which the readings were made, within three of their standard uncertainties.
        let reading = analyse(&setup, &[]).expect("a usable setup");
        for name in ["f_s_hz", "q_ms", "q_es", "r_e_ohm"] {
            let figure = &reading.values[name];
            let off = (figure.value - number(&set["truth"], name)).abs();
            assert!(off <= 3.0 * figure.standard_uncertainty.expect("one"), "{name}: {} ", figure.value);
        }
    }
}
