//! The equivalent circuit against a circuit simulator.
//!
//! Source of the values: ngspice's small-signal analysis of the same circuits built of R, L and C
//! (`tests/golden/make_circuits.py`).

mod golden_files;

use conewright::driver::coil::Coil;
use conewright::driver::equivalent_circuit::Circuit;
use golden_files::{golden, number, numbers};
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
