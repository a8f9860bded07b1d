//! The check with one input on stored takes, against NumPy and SciPy.
//!
//! Source of the values: numpy.fft and scipy.optimize.least_squares (`tests/golden/make_one_channel.py`), which share no
//! code with the analysis: their delay is a parameter of the fit, their variances are pooled in another way.

mod golden_files;

use conewright::driver::impedance_setup::CoilChoice;
use conewright::driver::one_channel_check::{analyse, OneChannelSetup};
use conewright::signal::role_take::RoleTake;
use conewright::signal::wav;
use golden_files::{bytes, golden, number};

/// Both weigh with variances pooled over 13 lines of four periods' scatter, known to 1/√(13·4) = 14 %, but pooled
/// differently; estimates with weights that differ by a part ε differ by about ε of a standard error. Four of them.
const STANDARD_ERRORS: f64 = 0.56;

#[test]
fn figures_agree_with_numpy_and_scipy() {
    let document = golden("one_channel.json");
    let roles = [("known_resistor", true), ("open", false), ("driver", false), ("known_resistor", true)];
    let names = document["takes"].as_array().expect("a list");
    let takes: Vec<RoleTake> = names
        .iter()
        .zip(roles)
        .map(|(name, (role, known))| {
            let take = wav::read(&bytes(name.as_str().expect("a name"))).expect("a WAV file").take;
            let resistor_ohm = known.then(|| number(&document, "known_resistor_ohm"));
            RoleTake { resistor_ohm, ..RoleTake::new(role, take) }
        })
        .collect();
    let setup = OneChannelSetup {
        input_resistance_ohm: Some(number(&document, "input_resistance_ohm")),
        coil_model: CoilChoice::SemiInductance,
        suspension_creep: Some(false),
        ..OneChannelSetup::plain(47.0)
    };
    let reading = analyse(&setup, &takes).expect("a usable setup");
    assert!(reading.refusal.is_none(), "{:?}", reading.refusal);
    for name in ["f_s_hz", "q_ms", "q_es", "r_e_ohm", "k_ohm_s_n", "n"] {
        let (ours, theirs) = (reading.values[name].value, number(&document["fit"], name));
        let off = (ours - theirs).abs() / number(&document["fit_standard_error"], name);
        println!("{name}: {ours}, SciPy {theirs}, {off:.3} standard errors apart");
        assert!(off < STANDARD_ERRORS, "{name}: {ours}, SciPy {theirs}, {off} standard errors apart");
    }
    // Means over a thousand lines with 2e-4 of noise each: 1e-5 of a level, and S follows the level 1 to 1.2.
    let series: f64 = reading.chosen["series_and_output_ohm"].parse().expect("a number");
    assert!((series / number(&document, "series_ohm") - 1.0).abs() < 1e-4, "{series}");
    let gain_db: f64 = reading.chosen["gain_change_db"].parse().expect("a number");
    assert!((gain_db - 20.0 * number(&document, "gain").log10()).abs() < 1e-3, "{gain_db}");
    assert_eq!(reading.chosen["clocks"], "one");
}
