//! Accuracy tables of the knock by simulation, and how surely friction is told from a viscous loss.

use super::knock_bench::{friction_called, lower_bound};
use super::trials::{around, print, Trial};
use conewright::driver::knock_check::{analyse, KnockSensor, KnockSetup};
use conewright::math::random::Random;
use conewright::signal::role_take::RoleTake;
use conewright::sim::bench::{knock, PracticeBench};
use conewright::sim::driver::Driver;
use conewright::sim::knock::KnockScene;
use conewright::sim::noise::Hum;
use conewright::sim::practice::{drivers, good_bench, good_microphone, PracticeDriver};

const RATE_HZ: f64 = 48_000.0;
const INPUT_OHM: f64 = 10_000.0;
const FIGURES: [&str; 4] = ["f_s_hz", "q_ms", "q_es", "q_ts"];
const WITH_WEIGHT: [&str; 7] = ["f_s_hz", "q_ms", "q_ts", "m_ms_kg", "c_ms_m_per_n", "bl_t_m", "v_as_m3"];

/// Coupling at 8 Hz, 10 kΩ, 1 mV of hum on 1.5 V full scale.
fn bench(driver: &Driver) -> PracticeBench {
    let mut bench = good_bench(driver);
    for channel in &mut bench.input.channels {
        (channel.coupling_hz, channel.resistance_ohm) = (8.0, INPUT_OHM);
    }
    bench.input.hum = Some(Hum { mains_hz: 50.0, fundamental_dbfs: 20.0 * (0.001f64 / 1.5).log10() });
    bench
}

fn take(
    driver: &Driver,
    sensor: KnockSensor,
    load_ohm: Option<f64>,
    added_mass_kg: Option<f64>,
    seed: u64,
) -> RoleTake {
    let mut scene = KnockScene::taps(driver, 6, RATE_HZ, seed);
    if let Some(ohm) = load_ohm {
        scene = scene.loaded(ohm);
    }
    if let Some(kg) = added_mass_kg {
        scene = scene.weighted(kg);
    }
    if sensor == KnockSensor::Microphone {
        scene = scene.heard_by(good_microphone());
    }
    let take = knock(&bench(driver), &scene, seed).expect("a take");
    RoleTake { load_ohm, added_mass_kg, ..RoleTake::new("free", take) }
}

fn setup(part: &PracticeDriver, sensor: KnockSensor) -> KnockSetup {
    KnockSetup {
        r_e_ohm: Some(part.truth.r_e_ohm),
        input_resistance_ohm: (sensor == KnockSensor::Coil).then_some(INPUT_OHM),
        effective_diameter_m: Some(part.effective_diameter_m),
        ..KnockSetup::new(sensor, 1)
    }
}

type Connected = (Option<f64>, Option<f64>);

/// Trials over two of the practice drivers; `connected` may depend on the moving mass.
fn trials(count: usize, sensor: KnockSensor, connected: impl Fn(f64) -> Vec<Connected>) -> Vec<Trial> {
    let parts: Vec<PracticeDriver> = drivers().into_iter().take(2).collect();
    let one = |i: usize| {
        let part = &parts[i % parts.len()];
        let takes: Vec<RoleTake> = connected(part.truth.m_ms_kg)
            .into_iter()
            .enumerate()
            .map(|(k, (load, weight))| take(&part.driver, sensor, load, weight, (10 * i + k) as u64))
            .collect();
        let reading = analyse(&setup(part, sensor), &takes).expect("a usable setup");
        Trial { truth: part.truth, reading }
    };
    (0..count).map(one).collect()
}

/// Free with two loads, then in a box of 0.8 V_as as a rule measures it; `with_load`: the resistor in the box as well.
fn boxed(count: usize, with_load: bool) -> Vec<Trial> {
    let parts: Vec<PracticeDriver> = drivers().into_iter().take(2).collect();
    let one = |i: usize| {
        let part = &parts[i % parts.len()];
        let mut random = Random::new(700 + i as u64);
        let net_m3 = 0.8 * part.truth.v_as_m3;
        let stated_m3 = (net_m3 + part.displacement_m3()) * around(&mut random, 1.0, 0.01);
        let in_box = |load_ohm: Option<f64>, seed: usize| {
            let mut scene = KnockScene::taps(&part.driver, 6, RATE_HZ, seed as u64);
            scene.load_ohm = load_ohm;
            let mut bench = bench(&part.driver);
            bench.mounting.net_box_m3 = Some(net_m3);
            let take = knock(&bench, &scene, seed as u64).expect("a take");
            RoleTake { load_ohm, box_volume_m3: Some(stated_m3), ..RoleTake::new("free", take) }
        };
        let free = [None, Some(33.0)];
        let mut takes: Vec<RoleTake> = free
            .iter()
            .zip(10 * i..)
            .map(|(load, k)| take(&part.driver, KnockSensor::Coil, *load, None, k as u64))
            .collect();
        takes.push(in_box(None, 10 * i + 4));
        if with_load {
            takes.push(in_box(Some(33.0), 10 * i + 5));
        }
        let mut setup = setup(part, KnockSensor::Coil);
        setup.driver_displacement_m3 = Some(part.displacement_m3());
        Trial { truth: part.truth, reading: analyse(&setup, &takes).expect("a usable setup") }
    };
    (0..count).map(one).collect()
}

/// Tables of the known box by knock.
pub fn boxes(count: usize) {
    for with_load in [false, true] {
        let what = if with_load { "open and with the resistor" } else { "open alone" };
        let title = format!("Knock, and in a box of 0.8 V_as, measures to 1 %, {what} (goal: V_as 2 %)");
        print(&title, &["v_as_m3", "m_ms_kg", "bl_t_m"], &boxed(count, with_load));
    }
}

/// All tables of the knock but those of the box.
pub fn tables(count: usize) {
    let open_and_loads = |_| vec![(None, None), (Some(100.0), None), (Some(33.0), None)];
    let coil = trials(count, KnockSensor::Coil, open_and_loads);
    print(
        "Knock by the coil, open and two loads, hum, coupling 8 Hz (goal: f_s 0.05, Q_ms 0.3, Q_ts 0.5 %)",
        &FIGURES,
        &coil,
    );
    let weight = |m| vec![(None, None), (Some(100.0), None), (Some(33.0), None), (None, Some(0.6 * m))];
    let weighted = trials(count, KnockSensor::Coil, weight);
    print("The same and a weight on the cone (goal: M_ms, V_as 2 %)", &WITH_WEIGHT, &weighted);
    let heard = trials(count, KnockSensor::Microphone, |_| vec![(None, None), (Some(33.0), None)]);
    print("Knock by a microphone that rolls off at 45 Hz (goal: f_s 0.5, Q_ms 3, Q_ts 10 %)", &FIGURES, &heard);
    friction(12 * count as u32);
}

/// 0.02 N in a driver of 70 g, in proportion to the mass in smaller ones, and the same drivers without. A low rate makes a
/// scene cheap; seeds of their own.
fn friction(count: u32) {
    println!("\nFriction told from the decay (goal: 99 % found, under 1 % of viscous ones called friction)");
    println!("  in brackets the exact one-sided bound of 95 % (Clopper and Pearson)");
    for id in ["twelve", "six", "five"] {
        for (sensor, count) in [(KnockSensor::Coil, count), (KnockSensor::Microphone, count / 3)] {
            let called = |force_n: f64, from: u64| {
                let is_called = |seed: &u64| friction_called(id, sensor, force_n, 16_000.0, from + seed);
                (0..u64::from(count)).filter(is_called).count() as u32
            };
            let (found, spared) = (called(0.02, 1_000_000), count - called(0.0, 2_000_000));
            println!(
                "  {id:<7}{sensor:?}, {count} scenes each: 0.02 N found in {found} (over {:.1} %); viscous called friction in {} (under {:.1} %)",
                100.0 * lower_bound(found, count),
                count - spared,
                100.0 * (1.0 - lower_bound(spared, count))
            );
        }
    }
}
