//! The knock check against the time-domain practice bench: bias, spread and coverage of every figure.

use conewright::driver::knock_check::{analyse, KnockSensor, KnockSetup};
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::sim::bench::{knock, PracticeBench};
use conewright::sim::knock::KnockScene;
use conewright::sim::microphone::Microphone;
use conewright::sim::noise::Hum;
use conewright::sim::practice::{drivers, good_bench, good_microphone, PracticeDriver};

const RATE_HZ: f64 = 48_000.0;

/// What is connected in one take.
#[derive(Clone, Copy)]
struct Connected {
    load_ohm: Option<f64>,
    added_mass_kg: Option<f64>,
}

const OPEN: Connected = Connected { load_ohm: None, added_mass_kg: None };

fn loaded(ohm: f64) -> Connected {
    Connected { load_ohm: Some(ohm), added_mass_kg: None }
}

fn bench(part: &PracticeDriver) -> PracticeBench {
    let mut b = good_bench(&part.driver);
    for c in &mut b.input.channels {
        c.coupling_hz = 8.0;
        c.resistance_ohm = 10_000.0;
    }
    // 1 mV of 1.5 V.
    b.input.hum = Some(Hum { mains_hz: 50.0, fundamental_dbfs: 20.0 * (0.001_f64 / 1.5).log10() });
    b
}

fn role_take(
    part: &PracticeDriver,
    b: &PracticeBench,
    c: Connected,
    microphone: Option<&Microphone>,
    seed: u64,
) -> RoleTake {
    let mut scene = KnockScene::taps(&part.driver, 6, RATE_HZ, seed);
    if let Some(ohm) = c.load_ohm {
        scene = scene.loaded(ohm);
    }
    if let Some(kg) = c.added_mass_kg {
        scene = scene.weighted(kg);
    }
    if let Some(m) = microphone {
        scene = scene.heard_by(m.clone());
    }
    let take = knock(b, &scene, seed).expect("a take");
    RoleTake { load_ohm: c.load_ohm, added_mass_kg: c.added_mass_kg, ..RoleTake::new("free", take) }
}

fn setup(part: &PracticeDriver, sensor: KnockSensor) -> KnockSetup {
    KnockSetup {
        r_e_ohm: Some(part.truth.r_e_ohm),
        input_resistance_ohm: (sensor == KnockSensor::Coil).then_some(10_000.0),
        effective_diameter_m: Some(part.effective_diameter_m),
        ..KnockSetup::new(sensor, 1)
    }
}

fn truths(part: &PracticeDriver) -> Vec<(&'static str, f64)> {
    let t = &part.truth;
    vec![
        ("f_s_hz", t.f_s_hz),
        ("q_ms", t.q_ms),
        ("q_es", t.q_es),
        ("q_ts", t.q_ts),
        ("m_ms_kg", t.m_ms_kg),
        ("c_ms_m_per_n", t.c_ms_m_per_n),
        ("r_ms_kg_per_s", t.r_ms_kg_per_s),
        ("bl_t_m", t.bl_t_m),
        ("v_as_m3", t.v_as_m3),
    ]
}

fn table(part: &PracticeDriver, reading: &Reading) {
    for (name, truth) in truths(part) {
        if let Some(v) = reading.values.get(name) {
            let off = v.value - truth;
            let u = v.standard_uncertainty.unwrap_or(f64::NAN);
            print!("  {name} {truth:.5} {:+.3}% u {:.3}% ({:.1}σ);", 100.0 * off / truth, 100.0 * u / truth, off / u);
        }
    }
    println!();
}

fn show(reading: &Reading) {
    let codes: Vec<String> = reading.warnings.iter().map(|w| format!("{:?} {:?}", w.code, w.numbers)).collect();
    println!("  {:?} {:?} {codes:?} {:?}", reading.outcome, reading.chosen, reading.refusal);
}

/// Deviation from the truth in per cent.
fn off(part: &PracticeDriver, r: &Reading, name: &str) -> f64 {
    let truth = truths(part).into_iter().find(|(n, _)| *n == name).expect(name).1;
    let found = r.values.get(name).unwrap_or_else(|| panic!("{name} missing, refusal {:?}", r.refusal)).value;
    100.0 * (found / truth - 1.0)
}

fn takes_of(
    part: &PracticeDriver,
    connected: &[Connected],
    microphone: Option<&Microphone>,
    seed: u64,
) -> Vec<RoleTake> {
    let b = bench(part);
    connected.iter().zip(0..).map(|(c, k)| role_take(part, &b, *c, microphone, seed + k)).collect()
}

/// Goals of the project for six knocks, open and two loads, hum of 1 mV, coupling at 8 Hz: f_s 0.05 %, Q_ms 0.3 %, Q_ts 0.5 %.
/// Without a weight the creep is assumed (4 ± 2 %), which alone may move Q_ms by 0.4 %: with the weight the goal is sharp.
#[test]
fn coil_open_two_loads_and_a_weight() {
    for part in drivers().into_iter().take(2) {
        let weight = Connected { load_ohm: None, added_mass_kg: Some(0.6 * part.truth.m_ms_kg) };
        let takes = takes_of(&part, &[OPEN, loaded(100.0), loaded(33.0), weight], None, 7);
        let r = analyse(&setup(&part, KnockSensor::Coil), &takes).expect("a setup");
        for (name, goal) in [("f_s_hz", 0.05), ("q_ms", 0.3), ("q_ts", 0.5), ("m_ms_kg", 2.0), ("v_as_m3", 2.0)] {
            assert!(off(&part, &r, name).abs() < goal, "{} {name} {:+.3} %", part.id, off(&part, &r, name));
        }
        for (name, truth) in truths(&part) {
            let v = &r.values[name];
            // Three standard uncertainties: 1 in 370 by chance, for fixed seeds.
            assert!((v.value - truth).abs() < 3.0 * v.standard_uncertainty.expect("u"), "{} {name}", part.id);
        }
    }
}

/// Goals for a microphone that rolls off at 45 Hz: f_s 0.5 %, Q_ms 3 %, Q_ts 10 %.
#[test]
fn microphone_open_and_loaded() {
    for part in drivers().into_iter().take(2) {
        let takes = takes_of(&part, &[OPEN, loaded(33.0)], Some(&good_microphone()), 11);
        let r = analyse(&setup(&part, KnockSensor::Microphone), &takes).expect("a setup");
        for (name, goal) in [("f_s_hz", 0.5), ("q_ms", 3.0), ("q_ts", 10.0)] {
            assert!(off(&part, &r, name).abs() < goal, "{} {name} {:+.3} %", part.id, off(&part, &r, name));
        }
    }
}

#[test]
#[ignore = "prints a table"]
fn table_of_all() {
    for part in drivers() {
        for seed in 0..3 {
            let b = bench(&part);
            let m = good_microphone();
            println!("{} seed {seed}", part.id);
            let weight = Connected { load_ohm: None, added_mass_kg: Some(0.6 * part.truth.m_ms_kg) };
            let takes: Vec<RoleTake> = [OPEN, loaded(100.0), loaded(33.0), weight]
                .into_iter()
                .enumerate()
                .map(|(k, c)| role_take(&part, &b, c, None, 100 * seed + k as u64))
                .collect();
            let begin = std::time::Instant::now();
            let r = analyse(&setup(&part, KnockSensor::Coil), &takes).expect("a setup");
            println!(" coil {:?}", begin.elapsed());
            table(&part, &r);
            show(&r);
            let takes: Vec<RoleTake> = [OPEN, loaded(33.0)]
                .into_iter()
                .enumerate()
                .map(|(k, c)| role_take(&part, &b, c, Some(&m), 1000 + 100 * seed + k as u64))
                .collect();
            let r = analyse(&setup(&part, KnockSensor::Microphone), &takes).expect("a setup");
            println!(" microphone");
            table(&part, &r);
            show(&r);
        }
    }
}

#[test]
#[ignore = "prints a table"]
fn table_of_friction() {
    let part = drivers().remove(0);
    let m = good_microphone();
    for (force, count) in [(0.02, 5), (0.0, 3)] {
        for microphone in [None, Some(&m)] {
            for seed in 0..count {
                let mut b = bench(&part);
                b.driver.friction.sliding_n = force;
                b.driver.friction.breakaway_n = 1.2 * force;
                let take = role_take(&part, &b, OPEN, microphone, 5000 + seed);
                let sensor = if microphone.is_some() { KnockSensor::Microphone } else { KnockSensor::Coil };
                let r = analyse(&setup(&part, sensor), &[take]).expect("a setup");
                print!("{force} N ");
                table(&part, &r);
                show(&r);
            }
        }
    }
}

/// Coverage and speed, printed: thirty scenes for each sensor with 1 % loads and a meter's error on R_e drawn afresh.
#[test]
#[ignore = "prints a table"]
fn table_of_coverage() {
    use conewright::math::random::Random;
    let parts = drivers();
    let mut random = Random::new(77);
    let mut hits: std::collections::BTreeMap<(bool, &str), (u32, u32, f64)> = Default::default();
    let (mut spotting, mut analysing, mut count) = (0.0, 0.0, 0.0);
    for trial in 0..24_u64 {
        let part = &parts[(trial % 3) as usize];
        let m = good_microphone();
        for microphone in [None, Some(&m)] {
            let mut takes = takes_of(part, &[OPEN], microphone, 9000 + 10 * trial);
            let stated = 33.0;
            let real = stated * (1.0 + 0.01 * random.between(-1.0, 1.0));
            let mut load = takes_of(part, &[loaded(real)], microphone, 9005 + 10 * trial).remove(0);
            load.load_ohm = Some(stated);
            takes.push(load);
            let sensor = if microphone.is_some() { KnockSensor::Microphone } else { KnockSensor::Coil };
            let mut s = setup(part, sensor);
            s.r_e_ohm = Some(part.truth.r_e_ohm * (1.0 + 0.005 * random.normal()));
            let begin = std::time::Instant::now();
            conewright::driver::knock_check::spot_knocks(&takes[0].take, 1);
            spotting += begin.elapsed().as_secs_f64() / takes[0].take.duration_s() * 20.0;
            let begin = std::time::Instant::now();
            let r = analyse(&s, &takes).expect("a setup");
            analysing += begin.elapsed().as_secs_f64();
            count += 1.0;
            for (name, truth) in truths(part) {
                let Some(v) = r.values.get(name) else { continue };
                let entry = hits.entry((microphone.is_some(), name)).or_default();
                entry.1 += 1;
                entry.0 += u32::from((v.value - truth).abs() <= v.half_width_95.unwrap_or(0.0));
                entry.2 = entry.2.max((v.value / truth - 1.0).abs() * 100.0);
            }
        }
    }
    for ((microphone, name), (inside, all, worst)) in hits {
        println!("microphone {microphone} {name}: {inside} of {all} inside, worst {worst:.3} %");
    }
    println!("spotting 20 s: {:.1} ms; analysis: {:.0} ms", 1e3 * spotting / count, 1e3 * analysing / count);
}
