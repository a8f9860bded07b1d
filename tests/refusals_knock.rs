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
