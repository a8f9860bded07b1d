//! Knocks on the simulated bench, as the tests of the knock check need them: one take, its setup, and trials with
//! everything drawn that a restorer cannot know.
#![allow(dead_code)] // each test file uses its part

use conewright::driver::knock_check::{analyse, load_for, KnockSensor, KnockSetup};
use conewright::math::random::Random;
use conewright::signal::notice::Code;
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::sim::bench::{knock, PracticeBench};
use conewright::sim::coil::FractionalInductance;
use conewright::sim::driver::{Driver, Friction, Loaded};
use conewright::sim::knock::KnockScene;
use conewright::sim::microphone::Microphone;
use conewright::sim::noise::Hum;
use conewright::sim::practice::{drivers, good_bench, good_microphone, PracticeDriver};
use conewright::sim::truth::{truth, Truth};
use std::f64::consts::TAU;

/// Full scale of the practice bench's input.
pub const FULL_SCALE_V: f64 = 1.5;

/// A driver of the practice bench.
pub fn part(id: &str) -> PracticeDriver {
    drivers().into_iter().find(|d| d.id == id).expect("a practice driver")
}

/// Hum of so many volts of its fundamental.
pub fn hum(volts: f64) -> Option<Hum> {
    Some(Hum { mains_hz: 50.0, fundamental_dbfs: 20.0 * (volts / FULL_SCALE_V).log10() })
}

/// A bench whose input couples at `coupling_hz` and has `input_ohm`.
pub fn bench(driver: &Driver, coupling_hz: f64, input_ohm: f64) -> PracticeBench {
    let mut bench = good_bench(driver);
    for channel in &mut bench.input.channels {
        (channel.coupling_hz, channel.resistance_ohm) = (coupling_hz, input_ohm);
    }
    bench
}

/// A take of knocks: what is connected is stated as it is.
#[derive(Clone)]
pub struct Knocks {
    pub bench: PracticeBench,
    pub count: usize,
    pub rate_hz: f64,
    pub microphone: Option<Microphone>,
    pub load_ohm: Option<f64>,
    pub added_mass_kg: Option<f64>,
    /// Inner volume of the closed box as the person states it; what air is truly in it stands with the bench.
    pub box_volume_m3: Option<f64>,
    /// Factor on every knock's force.
    pub strength: f64,
    pub seed: u64,
}

impl Knocks {
    pub fn new(bench: PracticeBench, sensor: KnockSensor, seed: u64) -> Self {
        Knocks {
            bench,
            count: 6,
            rate_hz: 48_000.0,
            microphone: (sensor == KnockSensor::Microphone).then(good_microphone),
            load_ohm: None,
            added_mass_kg: None,
            box_volume_m3: None,
            strength: 1.0,
            seed,
        }
    }

    pub fn take(&self) -> RoleTake {
        let mut scene = KnockScene::taps(&self.bench.driver, self.count, self.rate_hz, self.seed);
        scene.load_ohm = self.load_ohm;
        scene.added_mass_kg = self.added_mass_kg.unwrap_or(0.0);
        for touch in &mut scene.touches {
            if let conewright::sim::knock::Touch::Tap { peak_n, .. } = touch {
                *peak_n *= self.strength;
            }
        }
        if let Some(m) = &self.microphone {
            scene = scene.heard_by(m.clone());
        }
        let take = knock(&self.bench, &scene, self.seed).expect("a take");
        RoleTake {
            load_ohm: self.load_ohm,
            added_mass_kg: self.added_mass_kg,
            box_volume_m3: self.box_volume_m3,
            ..RoleTake::new("free", take)
        }
    }
}

/// The reading of some takes with a plain setup.
pub fn read(sensor: KnockSensor, takes: &[RoleTake]) -> Reading {
    analyse(&KnockSetup { r_e_ohm: Some(5.8), ..KnockSetup::new(sensor, 1) }, takes).expect("a usable setup")
}

/// Codes of all that a reading says.
pub fn codes(reading: &Reading) -> Vec<Code> {
    reading.warnings.iter().chain(&reading.refusal).map(|n| n.code).collect()
}

/// The friction of `force_n` in a driver of 70 g, in proportion to the mass.
pub fn rubbing(driver: &Driver, force_n: f64) -> Driver {
    let sliding_n = force_n * driver.moving_mass_kg / 0.07;
    Driver { friction: Friction { sliding_n, breakaway_n: 1.2 * sliding_n }, ..driver.clone() }
}

/// A driver as a restorer meets them: f_s 22 to 160 Hz, Q_ms 2 to 9, Q_es 0.3 to 1.1; creep, coil reactance and its loss as
/// widely spread as the analysis assumes them to be; suspension and motor that change with displacement.
pub fn random_driver(random: &mut Random) -> Driver {
    let mut driver = part("twelve").driver;
    let f_s_hz = 22.0 * 7.0f64.powf(random.uniform());
    let (q_ms, q_es) = (2.0 * 4.5f64.powf(random.uniform()), 0.3 * 3.6f64.powf(random.uniform()));
    let (omega, mass_kg) = (TAU * f_s_hz, 0.03 * (40.0 / f_s_hz));
    let r_e_ohm = random.between(3.2, 7.5);
    driver.r_e_ohm_at_20_c = r_e_ohm;
    driver.moving_mass_kg = mass_kg;
    driver.suspension.stiffness_n_per_m = omega * omega * mass_kg;
    driver.suspension.creep_per_decade = (0.04 + 0.02 * random.normal()).max(0.002);
    // Creep adds 0.68 of its share a decade to the loss; what is left of 1/Q_ms is viscous.
    let viscous = 1.0 / q_ms - 0.68 * driver.suspension.creep_per_decade;
    driver.suspension.viscous_n_s_per_m = omega * mass_kg * viscous.max(0.02);
    driver.motor.bl_t_m = (omega * mass_kg * r_e_ohm / q_es).sqrt();
    let n = random.between(0.6, 0.85);
    let reactance_ohm = (0.06 + 0.04 * random.normal()).max(0.005) * r_e_ohm;
    let k_ohm_s_n = reactance_ohm / (n * std::f64::consts::FRAC_PI_2).sin() / omega.powf(n);
    driver.coil = FractionalInductance { k_ohm_s_n, n };
    let diameter_m = random.between(0.08, 0.27);
    driver.s_d_m2 = std::f64::consts::PI / 4.0 * diameter_m * diameter_m;
    driver
}

/// A rectangular distribution of half width one.
fn rectangular(random: &mut Random) -> f64 {
    random.between(-1.0, 1.0)
}

/// One trial: a reading beside the truth, everything unknown drawn as widely as the budget says it is.
pub struct Trial {
    pub truth: Truth,
    pub reading: Reading,
}

/// Open and one load; with `weighted` a second load and a weight. `rate_hz`: a low rate makes the trial cheap.
pub fn trial(sensor: KnockSensor, weighted: bool, rate_hz: f64, count: usize, seed: u64) -> Trial {
    let mut random = Random::new(seed);
    let mut driver = random_driver(&mut random);
    let cold = truth(&Loaded::from(&driver));
    let by_coil = sensor == KnockSensor::Coil;
    // One kelvin between the meter and the knock, and the meter itself.
    driver.excess_temperature_k = random.normal();
    let stated_r_e = cold.r_e_ohm * (1.0 + 0.003 * random.normal());
    let stated_input = 10.0f64.powf(random.between(4.0, 5.5));
    let input_ohm = stated_input * (1.0 + 0.1 * rectangular(&mut random));
    let coupling_hz = random.between(2.0, 20.0);
    let noise_dbfs = random.between(-96.0, -70.0);
    let microphone = Microphone {
        roll_off_hz: random.between(20.0, 70.0),
        roll_off_q: random.between(0.55, 1.0),
        room_noise_db_spl: random.between(30.0, 50.0),
        ..good_microphone()
    };
    let pressure_pa = 101_325.0 + 1800.0 * random.normal();
    let mut knocks = Knocks::new(bench(&driver, coupling_hz, input_ohm), sensor, seed);
    knocks.bench.input.hum = hum(1e-3 * random.uniform());
    knocks.bench.input.channels[0].noise_dbfs = noise_dbfs;
    (knocks.rate_hz, knocks.count) = (rate_hz, count);
    knocks.microphone = (!by_coil).then_some(microphone);
    let load = load_for(1.6, 1.0 / cold.q_ms, cold.r_e_ohm / cold.q_es, cold.r_e_ohm).unwrap_or(100.0);
    let mut connected = vec![(None, None), (Some(load), None)];
    if weighted {
        connected.extend([(Some(3.3 * load), None), (None, Some(0.6 * cold.m_ms_kg))]);
    }
    let takes: Vec<RoleTake> = connected
        .into_iter()
        .zip(1000 * seed..)
        .map(|((load, weight), seed)| {
            let mut one = Knocks { seed, ..knocks.clone() };
            one.load_ohm = load.map(|ohm: f64| ohm * (1.0 + 0.01 * rectangular(&mut random)));
            one.added_mass_kg =
                weight.map(|kg: f64| kg * (1.0 + 0.002 * random.normal()) + 0.0001 * rectangular(&mut random));
            RoleTake { load_ohm: load, added_mass_kg: weight, ..one.take() }
        })
        .collect();
    let diameter_m = (4.0 * driver.s_d_m2 / std::f64::consts::PI).sqrt() + 0.001 * rectangular(&mut random);
    let setup = KnockSetup {
        r_e_ohm: Some(stated_r_e),
        input_resistance_ohm: by_coil.then_some(stated_input),
        effective_diameter_m: Some(diameter_m),
        ..KnockSetup::new(sensor, 1)
    };
    let reading = analyse(&setup, &takes).expect("a usable setup");
    // V_as goes with ρc² = 1.4 p; R_e, Q_es and Q_ts are asked for at the temperature of the meter.
    let truth = Truth { v_as_m3: cold.v_as_m3 * pressure_pa / 101_325.0, ..cold };
    Trial { truth, reading }
}

/// The truth by the name of the figure.
pub fn true_value(truth: &Truth, name: &str) -> f64 {
    match name {
        "f_s_hz" => truth.f_s_hz,
        "q_ms" => truth.q_ms,
        "q_es" => truth.q_es,
        "q_ts" => truth.q_ts,
        "m_ms_kg" => truth.m_ms_kg,
        "c_ms_m_per_n" => truth.c_ms_m_per_n,
        "r_ms_kg_per_s" => truth.r_ms_kg_per_s,
        "bl_t_m" => truth.bl_t_m,
        "v_as_m3" => truth.v_as_m3,
        other => panic!("no truth of {other}"),
    }
}

/// Probability of at most `k` successes in `n` trials.
fn at_most(k: u32, n: u32, p: f64) -> f64 {
    let mut term = (1.0 - p).powi(n as i32);
    let mut sum = term;
    for i in 0..k {
        term *= f64::from(n - i) / f64::from(i + 1) * p / (1.0 - p);
        sum += term;
    }
    sum
}

/// The exact lower bound of a share (Clopper and Pearson 1934), right in 95 of 100 cases: the share at which so many
/// successes or more come once in twenty times.
pub fn lower_bound(successes: u32, trials: u32) -> f64 {
    if successes == 0 {
        return 0.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let p = 0.5 * (low + high);
        // Counted from the other end, so that the many terms near one do not underflow.
        if at_most(trials - successes, trials, 1.0 - p) < 0.05 {
            low = p;
        } else {
            high = p;
        }
    }
    low
}

/// Is friction called? `force_n` in a driver of 70 g, in proportion to the mass; nought: a viscous loss alone.
pub fn friction_called(id: &str, sensor: KnockSensor, force_n: f64, rate_hz: f64, seed: u64) -> bool {
    let mut bench = bench(&rubbing(&part(id).driver, force_n), 8.0, 10_000.0);
    bench.input.hum = hum(1e-3);
    let knocks = Knocks { rate_hz, ..Knocks::new(bench, sensor, seed) };
    codes(&read(sensor, &[knocks.take()])).contains(&Code::Friction)
}
