//! The equivalent circuit against a circuit simulator, and its fit against SciPy.
//!
//! Source of the values: ngspice's small-signal analysis of the same circuits built of R, L and C
//! (`tests/golden/make_circuits.py`); scipy.optimize.least_squares on stored noisy takes (`tests/golden/make_takes.py`).

mod golden_files;

use conewright::driver::coil::Coil;
use conewright::driver::equivalent_circuit::Circuit;
use conewright::driver::impedance_fit::{fit_circuit, FittedCircuit};
use conewright::electrical::impedance::ImpedancePoint;
use conewright::math::fft::Complex64;
use conewright::signal::periods::split;
use conewright::signal::wav;
use golden_files::{bytes, golden, number, numbers};
use serde_json::Value;

/// The simulator solves in double precision with a pivot tolerance of 1e-13; three decades are left for the
/// conditioning of a network that spans 1e-6 H to 1e-2 F.
const SIMULATOR_RELATIVE: f64 = 1e-10;

fn coil(c: &Value) -> Coil {
    match c["coil"].as_str() {
        Some("inductance") => Coil::Inductance { l_e_h: number(c, "l_e_h") },
        Some("semi_inductance") => Coil::SemiInductance { k_ohm_s_n: number(c, "k_ohm_s_n"), n: number(c, "n") },
        Some("two_inductances") => {
            Coil::TwoInductances { l_e_h: number(c, "l_e_h"), l_2_h: number(c, "l_2_h"), r_2_ohm: number(c, "r_2_ohm") }
        }
        other => panic!("unknown coil {other:?}"),
    }
}

#[test]
fn circuits_agree_with_a_circuit_simulator() {
    let document = golden("circuits.json");
    let circuits = document["circuits"].as_array().expect("a list");
    assert_eq!(circuits.len(), 5);
    for c in circuits {
        let circuit = Circuit {
            f_s_hz: number(c, "f_s_hz"),
            q_ms: number(c, "q_ms"),
            q_es: number(c, "q_es"),
            r_e_ohm: number(c, "r_e_ohm"),
            coil: coil(c),
            creep: None,
        };
        let (re, im) = (numbers(c, "real_ohm"), numbers(c, "imaginary_ohm"));
        for ((hz, re), im) in numbers(c, "frequency_hz").iter().zip(&re).zip(&im) {
            let ours = circuit.impedance(*hz);
            let apart = ((ours.re - re).powi(2) + (ours.im - im).powi(2)).sqrt();
            // The chain of R-L sections that stands for the lossy coil is off by its own stated error of the coil's part.
            let coil_part = circuit.coil.impedance(std::f64::consts::TAU * hz).norm();
            let allowed = SIMULATOR_RELATIVE * ours.norm() + 1.05 * number(c, "coil_error") * coil_part;
            assert!(apart <= allowed, "{} at {hz} Hz: {apart:e} apart, {allowed:e} allowed", c["name"]);
        }
    }
}

/// Our search ends when the residual is square to every column to 1e-6 of its length: 1e-6·√(2·3473) = 8e-5 standard
/// errors from the minimum where the columns are independent. They are not (K and n), so ten times that is allowed; a
/// thousandth of a standard error moves no stated digit.
const MINIMUM_STANDARD_ERRORS: f64 = 1e-3;
/// Standard errors follow from derivatives (SciPy: by differences, step about 1e-8, hence errors of about 1e-7 of a column).
const STANDARD_ERROR_RELATIVE: f64 = 1e-5;

/// A variance from five periods (8 degrees of freedom, real and imaginary part) is too small too often: the mean of
/// residual²/variance is 8/(8 − 2). One factor on all weights moves neither the minimum nor the scaled standard errors,
/// but without it the fit would see a misfit where there is none.
const FEW_PERIODS: f64 = 8.0 / 6.0;

/// Every usable line of a stored take as an impedance, weighted by its own scatter, as the generator does it.
fn points(take: &Value) -> Vec<ImpedancePoint> {
    let file = wav::read(&bytes(take["take"].as_str().expect("a name"))).expect("a WAV file");
    let channels: Vec<&[f64]> = file.take.channels().iter().map(Vec::as_slice).collect();
    let periods = split(&channels, file.take.rate_hz(), 0).expect("periods");
    let r_ohm = number(take, "series_resistor_ohm");
    let point = |line: f64| {
        let ratio = periods.ratio(0, 1, line as usize).expect("a ratio");
        let rest = Complex64::new(1.0, 0.0) - ratio.value;
        ImpedancePoint {
            frequency_hz: periods.frequency_hz(line as usize),
            z_ohm: ratio.value / rest * r_ohm,
            variance_ohm2: FEW_PERIODS * ratio.variance * (r_ohm / rest.norm_sqr()).powi(2),
        }
    };
    numbers(take, "all_lines").into_iter().map(point).collect()
}

#[test]
fn fit_of_stored_takes_agrees_with_scipy() {
    for take in golden("takes.json")["takes"].as_array().expect("a list") {
        let points = points(take);
        let start = Circuit {
            f_s_hz: 36.0,
            q_ms: 4.0,
            q_es: 0.5,
            r_e_ohm: 6.5,
            coil: Coil::SemiInductance { k_ohm_s_n: 0.02, n: 0.7 },
            creep: None,
        };
        let fitted = fit_circuit(&points, &start).expect("a fit");
        assert_eq!(fitted.excess, 0.0, "the scatter explains the residual of {}", take["take"]);
        let c = fitted.circuit;
        let Coil::SemiInductance { k_ohm_s_n, n } = c.coil else { panic!("another coil came back") };
        let ours = [
            ("f_s_hz", c.f_s_hz),
            ("q_ms", c.q_ms),
            ("q_es", c.q_es),
            ("r_e_ohm", c.r_e_ohm),
            ("k_ohm_s_n", k_ohm_s_n),
            ("n", n),
        ];
        for (i, (name, value)) in ours.iter().enumerate() {
            let theirs = number(&take["fit"], name);
            let off = (value - theirs).abs() / number(&take["fit_standard_error"], name);
            assert!(off <= MINIMUM_STANDARD_ERRORS, "{}: {name} {value}, SciPy {theirs}, {off:e} off", take["take"]);
            if i < 4 {
                standard_error_agrees(take, name, i, &points, &fitted);
            }
        }
    }
}

/// The first four parameters of the fit are logarithms, so their standard errors are relative ones.
fn standard_error_agrees(take: &Value, name: &str, row: usize, points: &[ImpedancePoint], fitted: &FittedCircuit) {
    let per_part = |column: usize| (0.5 * points[column / 2].variance_ohm2).sqrt();
    let square: f64 = (0..2 * points.len()).map(|k| (fitted.sensitivity.row(row)[k] * per_part(k)).powi(2)).sum();
    let freedom = (2 * points.len() - 6) as f64;
    // Theirs is scaled by the residual: sum over a variance that counts real and imaginary part in full.
    let scale = (2.0 * number(take, "residual_sum_of_squares") / FEW_PERIODS / freedom).sqrt();
    let ours = square.sqrt() * scale;
    let theirs = number(&take["fit_standard_error"], name) / number(&take["fit"], name);
    let off = (ours / theirs - 1.0).abs();
    assert!(off <= STANDARD_ERROR_RELATIVE, "{}: {name} ± {ours:e}, SciPy {theirs:e}", take["take"]);
}
