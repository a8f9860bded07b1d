//! Takes that cannot answer: each fault of the practice bench, refused or warned of for the right reason.

use conewright::driver::knock_check::{analyse, KnockSensor, KnockSetup};
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::sim::faults::{faults, Fault};
use conewright::sim::practice::drivers;
use conewright::sim::practice_takes::{knock_practice, PracticeKnock, PracticeSensor};

fn read(driver: &str, fault: Fault, sensor: PracticeSensor, knocks: u32, seed: u32) -> Reading {
    let request = PracticeKnock {
        driver: driver.into(),
        fault,
        sensor,
        knocks,
        load_ohm: None,
        added_mass_kg: 0.0,
        box_volume_m3: None,
        rate_hz: 48_000.0,
        seed,
    };
    let take = knock_practice(&request).expect("a take");
    let sensor = if sensor == PracticeSensor::Microphone { KnockSensor::Microphone } else { KnockSensor::Coil };
    let setup = KnockSetup { r_e_ohm: Some(5.8), ..KnockSetup::new(sensor, 1) };
    analyse(&setup, &[RoleTake::new("free", take)]).expect("a setup")
}

fn codes(r: &Reading) -> Vec<String> {
    r.warnings.iter().chain(&r.refusal).map(|n| serde_json::to_string(&n.code).unwrap().replace('"', "")).collect()
}

#[test]
#[ignore = "prints a table"]
fn table_of_faults() {
    for f in faults().into_iter().filter(|f| f.for_knock) {
        for part in drivers() {
            for (name, sensor) in [("coil", PracticeSensor::Coil), ("mic", PracticeSensor::Microphone)] {
                let r = read(&part.id, f.fault, sensor, 5, 3);
                let v = |n: &str, t: f64| r.values.get(n).map(|v| format!("{:+.2}%", 100.0 * (v.value / t - 1.0)));
                println!(
                    "{:?} {} {name}: wanted {:?} got {:?} {:?} refusal {:?} f {:?} q {:?}",
                    f.fault,
                    part.id,
                    f.knock_code,
                    r.outcome,
                    codes(&r),
                    r.refusal.as_ref().map(|n| n.code),
                    v("f_s_hz", part.truth.f_s_hz),
                    v("q_ms", part.truth.q_ms)
                );
            }
        }
    }
}

/// The reason a reading gives, whether as a refusal or as a warning.
fn gives(fault: Fault, sensor: PracticeSensor, wanted: &[&str]) {
    let r = read("six", fault, sensor, 5, 3);
    let found = codes(&r);
    assert!(found.iter().any(|c| wanted.contains(&c.as_str())), "{fault:?}: {found:?}, {:?}", r.outcome);
}

#[test]
fn clipped_knocks_are_refused() {
    gives(Fault::Clipped, PracticeSensor::Coil, &["clipped"]);
    assert!(read("six", Fault::Clipped, PracticeSensor::Coil, 5, 3).values.is_empty());
}

#[test]
fn lost_samples_are_told() {
    gives(Fault::LostBuffer, PracticeSensor::Coil, &["gap"]);
}

#[test]
fn hum_noise_and_direct_current_are_told() {
    gives(Fault::Hum, PracticeSensor::Coil, &["hum"]);
    gives(Fault::Noise, PracticeSensor::Coil, &["noise"]);
    gives(Fault::DirectCurrent, PracticeSensor::Coil, &["direct_current"]);
}

#[test]
fn rumble_speech_and_silence_are_refused() {
    gives(Fault::Rumble, PracticeSensor::Microphone, &["noise"]);
    gives(Fault::Speech, PracticeSensor::Microphone, &["no_knock"]);
    // A dead input and a living one on which nobody knocks are two things.
    for sensor in [PracticeSensor::Coil, PracticeSensor::Microphone] {
        gives(Fault::Silent, sensor, &["silent"]);
        gives(Fault::NoKnock, sensor, &["no_knock"]);
    }
    for fault in [Fault::Rumble, Fault::Speech] {
        assert!(read("six", fault, PracticeSensor::Microphone, 5, 3).values.is_empty(), "{fault:?}");
    }
}

#[test]
fn a_rubbing_coil_is_called_friction() {
    gives(Fault::Rub, PracticeSensor::Coil, &["friction"]);
}

#[test]
fn one_knock_is_too_few() {
    let r = read("six", Fault::None, PracticeSensor::Coil, 1, 3);
    assert!(codes(&r).contains(&"too_few_knocks".to_owned()), "{:?}", codes(&r));
    assert!(r.values.is_empty());
}

#[test]
fn good_takes_give_a_reading_without_a_word() {
    for seed in 0..3 {
        for sensor in [PracticeSensor::Coil, PracticeSensor::Microphone] {
            let r = read("six", Fault::None, sensor, 5, 40 + seed);
            assert!(r.refusal.is_none() && r.warnings.is_empty(), "{:?}", codes(&r));
        }
    }
}
