//! Figures of the impedance check with one input against the truth of the simulated driver.

#![allow(missing_docs)]

mod impedance_bench;
mod one_channel_bench;

use conewright::driver::one_channel_check::{analyse, OneChannelSetup};
use conewright::signal::reading::{Outcome, Reading};
use conewright::signal::role_take::RoleTake;
use conewright::signal::take::Take;
use conewright::sim::bench::PracticeBench;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::jig::Position;
use conewright::sim::practice::good_bench;
use conewright::sim::truth::truth;
use impedance_bench::{ideal_bench, practice_driver};
use one_channel_bench::*;

/// Relative errors of f_s, Q_ms, Q_es, Q_ts, R_e in per cent.
fn errors(reading: &Reading, driver: &Driver) -> [f64; 5] {
    assert!(reading.refusal.is_none(), "{:?}", reading.refusal);
    let t = truth(&Loaded::from(driver));
    [("f_s_hz", t.f_s_hz), ("q_ms", t.q_ms), ("q_es", t.q_es), ("q_ts", t.q_ts), ("r_e_ohm", t.r_e_ohm)]
        .map(|(name, true_value)| 100.0 * (reading.values[name].value / true_value - 1.0))
}

fn quiet(id: &str) -> (Driver, PracticeBench) {
    let driver = practice_driver(id).linear();
    let mut bench = ideal_bench(&driver, -100.0);
    bench.jig.series_resistor_nominal_ohm = 47.0;
    (driver, bench)
}

/// An ideal jig and takes begun at different moments: what is left is the voice coil's ladder against the fitted K(jω)^n
/// and the noise, as with two inputs, where the same driver is held to 0.02 % in f_s, 0.2 % in Q, 0.1 % in R_e. Here the
/// output's resistance comes out of two levels, each certain to the noise of a thousand lines (1e-5): nothing to add.
#[test]
fn an_ideal_jig_gives_what_two_inputs_give() {
    for id in ["twelve", "six", "five"] {
        let (driver, bench) = quiet(id);
        let reading = read(&bench, &road(&bench, &marked(-8.0), 10));
        let e = errors(&reading, &driver);
        println!("{id}: {e:.4?} {:?} {:?}", reading.chosen, reading.warnings);
        assert_eq!(reading.outcome, Outcome::Reading);
        assert!(e[0].abs() < 0.02 && e[1..4].iter().all(|q| q.abs() < 0.2) && e[4].abs() < 0.1, "{id}: {e:?}");
    }
}

/// The output's resistance three ways: found with nothing connected, found with a second resistor, stated. All are exact
/// here, so all three give the same figures within their noise (1e-5 of a level, 1e-4 of a figure).
#[test]
fn the_outputs_resistance_three_ways() {
    let (_, bench) = quiet("six");
    let s = marked(-8.0);
    let takes = road(&bench, &s, 20);
    let second = record(&bench, &s, Position::KnownResistor { resistor_ohm: 33.0 }, 8000, 30);
    let with = |other: Option<RoleTake>, stated: Option<f64>| {
        let all: Vec<RoleTake> = [Some(takes[0].clone()), other, Some(takes[2].clone()), Some(takes[3].clone())]
            .into_iter()
            .flatten()
            .collect();
        let setup = OneChannelSetup { output_resistance_ohm: stated, ..OneChannelSetup::plain(47.0) };
        analyse(&setup, &all).expect("a usable setup")
    };
    let found = with(Some(takes[1].clone()), None);
    for other in [with(Some(role("known_resistor", second, Some(33.0))), None), with(None, Some(0.8))] {
        for name in ["f_s_hz", "q_ms", "q_ts", "r_e_ohm", "z_max_ohm"] {
            let ratio = other.values[name].value / found.values[name].value;
            assert!((ratio - 1.0).abs() < 3e-4, "{name}: {ratio}");
        }
    }
    // What is not said is not known: with 8 Ω instead of 0.8 Ω stated, Z_max is off by more than a per cent.
    let wrong = with(None, Some(8.0));
    assert!((wrong.values["z_max_ohm"].value / found.values["z_max_ohm"].value - 1.0).abs() > 0.01);
}

/// Gain that goes up by 0.5 % in steps: the mean of both takes of the resistor holds half of it, so with the driver's take
/// on the later side R_e is off by 0.25 % times (R_e + S)/S = 1.13; the interval says so.
#[test]
fn a_change_of_gain_is_carried() {
    let (driver, bench) = quiet("six");
    let mut takes = road(&bench, &marked(-8.0), 40);
    for take in &mut takes[2..] {
        let louder = take.take.channel(1).unwrap().iter().map(|s| 1.005 * s).collect();
        take.take = Take::new(RATE_HZ, vec![louder]).unwrap();
    }
    let reading = read(&bench, &takes);
    let r_e = &reading.values["r_e_ohm"];
    let gain = r_e.budget.iter().find(|c| c.source == "gain_between_takes").expect("in the budget").effect / r_e.value;
    let e = errors(&reading, &driver);
    println!("{e:.4?}, gain {gain}");
    assert!((gain.abs() - 0.0025 * 1.13).abs() < 1.5e-4, "{gain}");
    assert!((e[4] - 0.283).abs() < 0.05, "{e:?}");
}

/// The good bench (printed resistor off by 0.3 %, leads, 47 kΩ input, 16 bit, hum, coupling capacitor at 4 Hz): every
/// figure within its own interval, and the figures for two inputs beside with intervals that are no wider.
#[test]
fn a_real_bench_lies_within_its_intervals_and_says_what_one_input_costs() {
    let driver = practice_driver("six").linear();
    let bench = good_bench(&driver);
    let reading = read(&bench, &road(&bench, &marked(-6.0), 50));
    let t = truth(&Loaded::from(&driver));
    for (name, true_value) in [("f_s_hz", t.f_s_hz), ("q_ms", t.q_ms), ("q_ts", t.q_ts), ("r_e_ohm", t.r_e_ohm)] {
        let figure = &reading.values[name];
        let half = figure.half_width_95.unwrap();
        println!("{name}: {} ± {half}, true {true_value}", figure.value);
        assert!((figure.value - true_value).abs() < half, "{name}");
        let beside = &reading.alongside[&format!("two_channel_{name}")];
        assert_eq!(beside.value, figure.value);
        assert!(beside.half_width_95.is_some());
    }
}

/// Without marks, as a recording made elsewhere: the periods themselves tell the delay.
#[test]
fn takes_from_elsewhere_need_no_marks() {
    let (driver, bench) = quiet("six");
    let s = conewright::signal::stimulus::Stimulus {
        period_s: 1.0,
        ..conewright::procedure::defaults::measuring(RATE_HZ, -8.0)
    };
    let reading = read(&bench, &road(&bench, &s, 60));
    let e = errors(&reading, &driver);
    assert!(e[0].abs() < 0.02 && e[3].abs() < 0.2 && e[4].abs() < 0.1, "{e:?}");
}
