//! Figures of the impedance check by microphone against the truth of the simulated driver, in a quiet room.

#![allow(missing_docs)]

mod impedance_bench;
mod mic_bench;

use conewright::driver::mic_impedance_check::{analyse, MicImpedanceSetup};
use conewright::electrical::take_ratio::take_spectrum;
use conewright::signal::notice::Code;
use conewright::signal::pilots::unmarked;
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::take::Take;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::input::GainRiding;
use conewright::sim::truth::truth;
use impedance_bench::practice_driver;
use mic_bench::*;

fn errors(reading: &Reading, driver: &Driver) -> [f64; 4] {
    assert!(reading.refusal.is_none(), "{:?}", reading.refusal);
    let t = truth(&Loaded::from(driver));
    [("f_s_hz", t.f_s_hz), ("q_ms", t.q_ms), ("q_ts", t.q_ts), ("r_e_ohm", t.r_e_ohm)]
        .map(|(name, true_value)| 100.0 * (reading.values[name].value / true_value - 1.0))
}

/// Goals of the accuracy table in a quiet room: f_s 1 %, Q_ts 3 %, R_e 1.5 %; and every figure within its own interval.
#[test]
fn a_quiet_room_gives_every_figure() {
    for id in ["twelve", "six"] {
        let driver = practice_driver(id).linear();
        let scene = Scene::quiet(&driver);
        let setup = scene.setup();
        let reading = analyse(&setup, &scene.takes(&setup, 1)).expect("a usable setup");
        let e = errors(&reading, &driver);
        println!("{id}: {e:.3?} {:?} {:?}", reading.chosen, reading.warnings);
        assert!(e[0].abs() < 1.0 && e[2].abs() < 3.0 && e[3].abs() < 1.5, "{id}: {e:?}");
        let t = truth(&Loaded::from(&driver));
        for (name, true_value) in [("f_s_hz", t.f_s_hz), ("q_ts", t.q_ts), ("r_e_ohm", t.r_e_ohm)] {
            let figure = &reading.values[name];
            assert!((figure.value - true_value).abs() < figure.half_width_95.unwrap(), "{id} {name}: {figure:?}");
        }
    }
}

/// Shaped by the driver's own figures the cone travels alike with and without the resistor, so the pressures are the same
/// within what the coil adds below 120 Hz (L of 0.3 mH: 0.2 Ω beside 6, in quadrature, 1 %) and creep takes; played alike
/// they are not: at the peak the resistor of 8.2 Ω leaves 51/59 (Z_max 51 Ω), far from it 6.3/14.5, a factor of 2 apart, of
/// which 120 Hz shows three quarters.
#[test]
fn shaped_takes_travel_alike() {
    let scene = Scene::quiet(&practice_driver("six").linear());
    let shaped = scene.setup();
    let flat = MicImpedanceSetup { output_resistance_ohm: Some(0.15), ..MicImpedanceSetup::plain(8.2) };
    let range_of = |setup: &MicImpedanceSetup| {
        let takes = scene.takes(setup, 5);
        let spectrum = |i: usize| {
            let bare = unmarked(&takes[i].take, 1).expect("whole").expect("marks");
            take_spectrum(bare.take.channel(1).expect("a channel"), RATE_HZ, bare.period).expect("periods")
        };
        let lines = spectrum(1).over(&spectrum(0), (15.0, 120.0)).lines;
        lines.iter().fold((f64::INFINITY, 0.0f64), |(low, high), l| (low.min(l.ratio.norm()), high.max(l.ratio.norm())))
    };
    let (alike, apart) = (range_of(&shaped), range_of(&flat));
    println!("shaped {alike:.3?}, flat {apart:.3?}");
    assert!(alike.0 > 0.97 && alike.1 < 1.03, "{alike:?}");
    assert!(apart.1 / apart.0 > 1.5, "{apart:?}");
}

/// Takes in the wrong order, and a resistor that was never in the way.
#[test]
fn takes_that_cannot_be() {
    let scene = Scene::quiet(&practice_driver("six").linear());
    let setup = MicImpedanceSetup { output_resistance_ohm: Some(0.15), ..MicImpedanceSetup::plain(8.2) };
    let takes = scene.takes(&setup, 21);
    let again = |order: [(&str, usize); 3]| {
        let takes: Vec<RoleTake> = order.map(|(role, i)| RoleTake::new(role, takes[i].take.clone())).into();
        analyse(&setup, &takes).expect("a usable setup").refusal.map(|n| n.code)
    };
    assert_eq!(again([("without", 0), ("with", 2), ("without", 2)]), Some(Code::WrongResistor));
    assert_eq!(again([("without", 1), ("with", 0), ("without", 1)]), Some(Code::Contradiction));
    // The resistor left in: nearly all of it is a change of gain, the rest a change of shape.
    let left_in = again([("without", 0), ("with", 1), ("without", 1)]);
    assert!(matches!(left_in, Some(Code::Contradiction | Code::GainRiding)), "{left_in:?}");
    let mut louder = takes.clone();
    let samples = louder[2].take.channel(1).expect("a channel").iter().map(|s| 1.03 * s).collect();
    louder[2].take = Take::new(RATE_HZ, vec![samples]).expect("a take");
    let refusal = analyse(&setup, &louder).expect("a usable setup").refusal;
    assert_eq!(refusal.map(|n| n.code), Some(Code::GainRiding));
}

/// The forecast from silence and one take is the scatter that the reading has: within a factor of two, as the typical driver
/// is not this one.
#[test]
fn a_forecast_comes_true() {
    let driver = practice_driver("six").linear();
    let mut scene = Scene::quiet(&driver);
    scene.microphone.room_noise_db_spl = 60.0;
    let setup = scene.setup();
    let takes = scene.takes(&setup, 9);
    let reading = analyse(&setup, &takes).expect("a usable setup");
    let told = analyse(&setup, &[scene.silence(77), takes[0].clone()]).expect("a usable setup");
    let by_noise = |name: &str| {
        let figure = &reading.values[name];
        figure.budget.iter().find(|c| c.source == "noise").expect("noise").effect / figure.value
    };
    let curve = &told.curves["forecast"];
    let at = curve["f_s_hz"].iter().position(|f| *f == 50.0).expect("a row");
    for (name, column) in [("f_s_hz", "f_s_percent"), ("q_ts", "q_ts_percent")] {
        let ratio = curve[column][at] / 100.0 / by_noise(name);
        println!("{name}: told {} %, came {} %", curve[column][at], 100.0 * by_noise(name));
        assert!((0.5..2.0).contains(&ratio), "{name}: {ratio}");
    }
}

/// Hopeless rooms are told before time is spent: rumble of 128 dB over the same level.
#[test]
fn a_hopeless_room_is_refused_beforehand() {
    let driver = practice_driver("twelve").linear();
    let mut scene = Scene::quiet(&driver);
    let setup = scene.setup();
    let first = scene.takes(&setup, 11)[0].clone();
    scene.microphone.rumble_db_spl = 128.0;
    scene.microphone.room_noise_db_spl = 120.0;
    let told = analyse(&setup, &[scene.silence(3), first]).expect("a usable setup");
    assert_eq!(told.refusal.map(|n| n.code), Some(Code::Noise));
}

/// The output of a poor amplifier, not stated, found from a take with 8.2 Ω across the output: within four
/// standard uncertainties as stated, and then R_e is the coil's alone.
#[test]
fn the_output_is_found() {
    let output_ohm = 1.8;
    let driver = practice_driver("six").linear();
    let mut scene = Scene::quiet(&driver);
    scene.bench.jig.output_ohm = output_ohm;
    let setup = MicImpedanceSetup { output_resistance_ohm: None, ..scene.setup() };
    let mut takes = scene.takes(&setup, 31);
    takes.insert(1, scene.loaded(8.2, 35));
    let reading = analyse(&setup, &takes).expect("a usable setup");
    let e = errors(&reading, &driver);
    let found = &reading.values["output_resistance_ohm"];
    let uncertainty = found.standard_uncertainty.expect("an uncertainty");
    println!("{output_ohm}: found {} ± {uncertainty}, {e:.3?}", found.value);
    assert!((found.value - output_ohm).abs() < 4.0 * uncertainty, "{found:?}");
    assert!(e[3].abs() < 1.5 && e[0].abs() < 1.0 && e[2].abs() < 3.0, "{e:?}");
}

/// A control that takes back up to `range_db` of gain, slowly, around the level of the takes.
fn riding(scene: &mut Scene, range_db: f64, target_dbfs: f64) {
    scene.bench.input.gain_riding = Some(GainRiding { target_dbfs, range_db, attack_s: 0.3, release_s: 0.6 });
}

/// Gain that follows level mildly: the plain take shows it, and takes that came back at one level are read with it met;
/// takes at two levels are refused, and say by how much to change the level.
#[test]
fn mild_riding_is_met_at_one_level_and_refused_at_two() {
    let driver = practice_driver("six").linear();
    let mut scene = Scene::quiet(&driver);
    riding(&mut scene, 0.5, -33.0);
    let mut setup = scene.setup();
    let mut takes = scene.takes(&setup, 41);
    takes.insert(1, scene.plainly_with(45));
    let reading = analyse(&setup, &takes).expect("a usable setup");
    let refusal = reading.refusal.expect("at two levels it cannot be told");
    println!("{:?}", refusal.numbers);
    assert_eq!(refusal.code, Code::GainRiding);
    setup.shaped_louder_db = setup.shaped_louder_db.map(|db| db - refusal.numbers["level_apart_db"]);
    takes[2] = scene.shaped(&setup, 52);
    let reading = analyse(&setup, &takes).expect("a usable setup");
    let e = errors(&reading, &driver);
    println!("{e:.3?} {:?}", reading.chosen);
    assert!(reading.warnings.iter().any(|w| w.code == Code::GainRiding), "told all the same");
    assert!(e[0].abs() < 1.0 && e[2].abs() < 3.0 && e[3].abs() < 1.5, "{e:?}");
}
