//! The check by meter against the truth of simulated drivers, whose coil (a ladder) and suspension (creep branches) are
//! richer than the fitted circuit. Tones are those that the procedure proposes, nine of them at 1 V through 10 Ω.
//!
//! Goal of the accuracy table: 1 mV and 0.3 %: f_s within 0.3 %, Q's within 2 %; with a last digit of 0.1 V about 0.5 to
//! 1.5 % and 4 to 5 %.

#![allow(missing_docs)]

mod impedance_bench;
mod meter_bench;

use conewright::driver::meter_check::analyse;
use conewright::driver::meter_setup::MeterSetup;
use conewright::math::random::Random;
use conewright::signal::notice::{Code, Notice};
use conewright::signal::reading::{Outcome, Reading};
use impedance_bench::least_successes;
use meter_bench::{error_percent, trial, Bench, Trial};

const NAMES: [&str; 6] = ["f_s_hz", "q_ms", "q_es", "q_ts", "r_e_ohm", "z_max_ohm"];

fn worst(trials: &[Trial], name: &str) -> f64 {
    trials.iter().map(|t| error_percent(t, name).abs()).fold(0.0, f64::max)
}

fn root_mean_square(trials: &[Trial], name: &str) -> f64 {
    (trials.iter().map(|t| error_percent(t, name).powi(2)).sum::<f64>() / trials.len() as f64).sqrt()
}

/// The goal is held by every single trial. What to expect: each ratio is uncertain by √2·0.3 %/√3 = 0.24 %; nine tones
/// bring f_s to about 0.24 %/(2 Q_ms) and the Q's to 0.5 to 0.7 %, so that 2 % are three standard deviations.
#[test]
fn nine_tones_at_a_millivolt_and_three_tenths_of_a_per_cent() {
    for (label, bench) in [("unsteady", Bench::unsteady()), ("gain", Bench::gain_only())] {
        let trials: Vec<Trial> = (0..24).map(|seed| trial(seed, &bench)).collect();
        for name in NAMES {
            println!(
                "{label} {name}: worst {:.3} %, rms {:.3} %",
                worst(&trials, name),
                root_mean_square(&trials, name)
            );
        }
        assert!(trials.iter().all(|t| t.reading.outcome == Outcome::Reading), "{label}");
        assert!(worst(&trials, "f_s_hz") < 0.3, "{label}");
        for q in ["q_ms", "q_es", "q_ts"] {
            assert!(worst(&trials, q) < 2.0, "{label}: {q} {}", worst(&trials, q));
        }
    }
}

/// A last digit of 0.1 V at 5 V: each ratio is uncertain by about 0.029 V·√(1/4.3² + 1/0.7²) = 4 % at the peak.
#[test]
fn a_tenth_of_a_volt() {
    let trials: Vec<Trial> = (0..24).map(|seed| trial(seed, &Bench::coarse())).collect();
    for name in NAMES {
        println!("0.1 V {name}: worst {:.3} %, rms {:.3} %", worst(&trials, name), root_mean_square(&trials, name));
    }
    assert!(worst(&trials, "f_s_hz") < 1.5 && root_mean_square(&trials, "q_ts") < 5.0);
}

/// Both sides: intervals hold the truth at least as often as 91 % allow (chance fails once in ten thousand), and what is
/// stated is no more than three times what is found: 60 trials know a standard deviation to 9 %, and the uncertainty of
/// the coil model and of a percentage that may or may not cancel is stated for the worse case.
#[test]
fn intervals_hold_the_truth_and_are_not_wide() {
    let trials: Vec<Trial> = (100..160).map(|seed| trial(seed, &Bench::honest())).collect();
    let least = least_successes(60, 0.91, 1e4);
    for name in NAMES {
        let inside = |t: &&Trial| {
            let figure = &t.reading.values[name];
            (figure.value - t.true_value(name)).abs() <= figure.half_width_95.expect("an interval")
        };
        let held = trials.iter().filter(inside).count() as u32;
        let stated = trials.iter().map(|t| t.stated_percent(name)).sum::<f64>() / 60.0;
        let found = root_mean_square(&trials, name);
        println!("{name}: {held} of 60; stated {stated:.3} %, found {found:.3} %");
        assert!(held >= least, "{name}: {held} of 60, {least} wanted");
        assert!(stated < 3.0 * found, "{name}: stated {stated:.3} %, found {found:.3} %");
    }
}

/// Setup with ten clean readings of a practice driver, the display of 1 mV.
fn ten(seed: u64, both: bool) -> MeterSetup {
    let bench = Bench { both, tones: 10, ..Bench::unsteady() };
    trial(seed % 3, &bench).setup
}

fn refusal(setup: &MeterSetup, label: &str) -> Notice {
    let reading = analyse(setup, &[]).expect("a usable setup");
    assert_eq!(reading.outcome, Outcome::Refused, "{label}: {:?}", reading.values.get("f_s_hz"));
    reading.refusal.expect("a refusal")
}

/// Each way in which a hand slips, at every reading: the reading is named, and what was meant is what was meant.
#[test]
fn a_slipped_digit_is_named_with_what_was_meant() {
    let point = |v: f64| format!("{:.4}", v / 10.0).parse::<f64>().expect("volts");
    let swapped_digits = |v: f64| {
        let mut text = format!("{v:.3}").into_bytes();
        text.swap(2, 3);
        String::from_utf8(text).expect("digits").parse::<f64>().expect("volts")
    };
    let (mut told, mut found) = (0, 0);
    for both in [false, true] {
        let good = ten(1, both);
        for i in 0..good.readings.len() {
            let r = good.readings[i];
            let slips: [(&str, f64, f64); 4] = [
                ("point, driver", 10.0 * r.driver_v, r.other_v()),
                ("point, other", r.driver_v, point(r.other_v())),
                ("digits, driver", swapped_digits(r.driver_v), r.other_v()),
                ("digits, other", r.driver_v, swapped_digits(r.other_v())),
            ];
            for (kind, driver_v, other_v) in slips {
                let typed = r.with((driver_v * 1e6).round() / 1e6, other_v);
                // A slip below a twelfth of the ratio may hide where one reading carries much of a figure.
                if (typed.log_ratio() - r.log_ratio()).abs() < 0.08 || other_v == 0.0 || driver_v == 0.0 {
                    continue;
                }
                let mut setup = good.clone();
                setup.readings[i] = typed;
                let label = format!("both {both} reading {} {kind}: {typed:?} was {r:?}", i + 1);
                let reading = analyse(&setup, &[]).expect("a usable setup");
                told += 1;
                let Some(notice) = reading.refusal else { panic!("{label}: not refused") };
                assert_eq!(notice.code, Code::Contradiction, "{label}: {}", notice.message);
                let named = notice.numbers.get("reading") == Some(&(i as f64 + 1.0));
                let meant = [
                    ("driver_probably_v", r.driver_v),
                    ("resistor_probably_v", r.other_v()),
                    ("source_probably_v", r.other_v()),
                ];
                let right = meant.iter().any(|(name, v)| notice.numbers.get(*name) == Some(v));
                if named && right {
                    found += 1;
                } else {
                    println!("{label}: {}", notice.message);
                }
            }
        }
    }
    println!("slips named with what was meant: {found} of {told}");
    // Two corrections can fit equally well within the uncertainty; seven in eight are told exactly.
    assert!(told > 40 && 8 * found >= 7 * told, "{found} of {told}");
}

#[test]
fn exchanged_volts_of_one_reading_and_exchanged_readings_are_told() {
    let good = ten(0, false);
    let mut setup = good.clone();
    let r = good.readings[1];
    setup.readings[1] = r.with(r.other_v(), r.driver_v);
    let notice = refusal(&setup, "volts exchanged");
    assert_eq!(notice.numbers.get("reading"), Some(&2.0), "{}", notice.message);
    assert_eq!(notice.numbers.get("driver_probably_v"), Some(&r.driver_v), "{}", notice.message);
    assert_eq!(notice.numbers.get("resistor_probably_v"), Some(&r.other_v()), "{}", notice.message);
    let mut setup = good.clone();
    (setup.readings[1], setup.readings[5]) = (
        good.readings[1].with(good.readings[5].driver_v, good.readings[5].other_v()),
        good.readings[5].with(r.driver_v, r.other_v()),
    );
    let notice = refusal(&setup, "readings exchanged");
    assert_eq!(notice.numbers.get("reading"), Some(&2.0), "{}", notice.message);
    assert_eq!(notice.numbers.get("exchanged_with_reading"), Some(&6.0), "{}", notice.message);
}

#[test]
fn each_refusal_has_its_reason() {
    let good = ten(1, false);
    let with = |change: &dyn Fn(&mut MeterSetup)| {
        let mut setup = good.clone();
        change(&mut setup);
        refusal(&setup, "").code
    };
    let f_s = analyse(&good, &[]).expect("usable").values["f_s_hz"].value;
    assert_eq!(with(&|s| s.readings.truncate(4)), Code::TooFewReadings);
    assert_eq!(with(&|s| s.readings = vec![s.readings[0]; 12]), Code::TooFewReadings);
    let exchange =
        |s: &mut MeterSetup| s.readings = s.readings.iter().map(|r| r.with(r.other_v(), r.driver_v)).collect();
    assert_eq!(with(&exchange), Code::SwappedChannels);
    let source = ten(1, true);
    let mut swapped = source.clone();
    exchange(&mut swapped);
    assert_eq!(refusal(&swapped, "source and driver").code, Code::SwappedChannels);
    assert_eq!(with(&|s| s.readings.iter_mut().for_each(|r| *r = r.with(0.5, 2e-6))), Code::OpenCircuit);
    assert_eq!(with(&|s| s.readings.iter_mut().for_each(|r| *r = r.with(2e-3, 0.5))), Code::ShortCircuit);
    assert_eq!(with(&|s| s.readings.iter_mut().for_each(|r| *r = r.with(0.4, 0.5))), Code::ModelMisfit);
    let hz = [1.3, 1.5, 1.8, 2.2, 3.0, 4.5, 8.0, 15.0];
    let above = meter_bench::readings_at(1, &Bench::unsteady(), &hz.map(|x| x * f_s));
    assert_eq!(with(&|s| s.readings = above.clone()), Code::BandTooNarrow);
    // Volts without rhyme: no circuit follows them.
    let mut random = Random::new(3);
    let mut wild = good.clone();
    wild.readings.iter_mut().for_each(|r| *r = r.with(0.5 * 3f64.powf(random.uniform()), 0.3));
    assert!(matches!(
        refusal(&wild, "wild").code,
        Code::ModelMisfit | Code::Contradiction | Code::BandTooNarrow | Code::CoarseReadings
    ));
    let coarse = |s: &mut MeterSetup| s.accuracy.resolution_v = 1.0;
    assert_eq!(with(&coarse), Code::CoarseReadings);
}

#[test]
fn what_is_worth_knowing_is_said() {
    let codes = |reading: &Reading| reading.warnings.iter().map(|n| n.code).collect::<Vec<_>>();
    let slow = analyse(&ten(0, false), &[]).expect("usable");
    assert!(codes(&slow).contains(&Code::SlowMeter) && slow.outcome == Outcome::Reading, "{:?}", slow.warnings);
    let mut ohms = ten(1, false);
    ohms.r_e_ohm = Some(8.2);
    let doubtful = analyse(&ohms, &[]).expect("usable");
    assert!(
        codes(&doubtful).contains(&Code::Contradiction) && doubtful.outcome == Outcome::Doubtful,
        "{:?}",
        doubtful.warnings
    );
}

/// A setup that cannot be used names its field.
#[test]
fn typed_nonsense_names_its_field() {
    let field = |change: &dyn Fn(&mut MeterSetup)| {
        let mut setup = ten(1, false);
        change(&mut setup);
        analyse(&setup, &[]).expect_err("must be refused").field
    };
    assert_eq!(field(&|s| s.readings[3].driver_v = -0.5), "readings[3].driver_v");
    assert_eq!(field(&|s| s.readings[3].driver_v = 1e9), "readings[3].driver_v");
    assert_eq!(field(&|s| s.readings[0].frequency_hz = f64::NAN), "readings[0].frequency_hz");
    assert_eq!(field(&|s| s.readings[2].resistor_v = None), "readings[2].resistor_v");
    assert_eq!(field(&|s| s.readings[2].source_v = Some(1.0)), "readings[2].source_v");
    assert_eq!(field(&|s| s.series_resistor_ohm = 0.0), "series_resistor_ohm");
    assert_eq!(field(&|s| s.r_e_ohm = Some(-5.0)), "r_e_ohm");
    assert_eq!(field(&|s| s.accuracy.resolution_v = -1.0), "accuracy.resolution_v");
    assert_eq!(field(&|s| s.readings = vec![s.readings[0]; 201]), "readings");
}
