//! The check by microphone on stored takes, against NumPy and SciPy.
//!
//! Source of the values: numpy.fft, scipy.optimize.least_squares and minimize_scalar (`tests/golden/make_microphone.py`), which
//! share no code with the analysis: their delay is a parameter of the fit, their variances are pooled in another way.

mod golden_files;

use conewright::driver::impedance_setup::CoilChoice;
use conewright::driver::mic_impedance_check::{analyse, MicImpedanceSetup};
use conewright::signal::role_take::RoleTake;
use conewright::signal::wav;
use golden_files::{bytes, golden, number};

/// Both weigh with variances pooled over 13 lines of four periods' scatter, known to 1/√(13·4) = 14 %, but pooled
/// differently; estimates with weights that differ by a part ε differ by about ε of a standard error. Four of them.
const STANDARD_ERRORS: f64 = 0.56;

#[test]
fn figures_agree_with_numpy_and_scipy() {
    let document = golden("microphone.json");
    let roles = ["without", "loaded", "with", "with_shaped", "without"];
    let names = document["takes"].as_array().expect("a list");
    let takes: Vec<RoleTake> = names
        .iter()
        .zip(roles)
        .map(|(name, role)| {
            let take = wav::read(&bytes(name.as_str().expect("a name"))).expect("a WAV file").take;
            let resistor_ohm = (role == "loaded").then(|| number(&document, "across_ohm"));
            RoleTake { resistor_ohm, ..RoleTake::new(role, take) }
        })
        .collect();
    let shaped = |name: &str| Some(number(&document["shaped"], name));
    let setup = MicImpedanceSetup {
        shaped_louder_db: shaped("shaped_louder_db"),
        shaped_at_hz: shaped("shaped_at_hz"),
        shaped_q_without: shaped("shaped_q_without"),
        shaped_q_with: shaped("shaped_q_with"),
        coil_model: CoilChoice::SemiInductance,
        suspension_creep: Some(false),
        ..MicImpedanceSetup::plain(number(&document, "series_resistor_ohm"))
    };
    let reading = analyse(&setup, &takes).expect("a usable setup");
    assert!(reading.refusal.is_none(), "{:?}", reading.refusal);
    for name in ["f_s_hz", "q_ms", "q_es", "r_e_ohm", "k_ohm_s_n", "n"] {
        let (ours, theirs) = (reading.values[name].value, number(&document["fit"], name));
        let off = (ours - theirs).abs() / number(&document["fit_standard_error"], name);
        println!("{name}: {ours}, SciPy {theirs}, {off:.3} standard errors apart");
        assert!(off < STANDARD_ERRORS, "{name}: {ours}, SciPy {theirs}, {off} standard errors apart");
    }
    // Several hundred lines, weighted line by line here and evenly there: a part of what noise leaves.
    let output = &reading.values["output_resistance_ohm"];
    let noise = output.budget.iter().find(|c| c.source == "noise").expect("noise").effect;
    let theirs = number(&document, "output_ohm");
    println!("output: {} by noise ± {noise}, SciPy {theirs}", output.value);
    assert!((output.value - theirs).abs() < noise, "{}, SciPy {theirs}", output.value);
    let gain_db: f64 = reading.chosen["gain_change_db"].parse().expect("a number");
    assert!((gain_db - 20.0 * number(&document, "gain").log10()).abs() < 1e-3, "{gain_db}");
}
