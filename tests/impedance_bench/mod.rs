//! Takes from the simulated bench, as the impedance tests need them.
#![allow(dead_code)] // each test file uses its part

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::fft::{self, Complex64};
use conewright::math::random::Random;
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::{Shape, Stimulus};
use conewright::signal::take::Take;
use conewright::signal::test_signals::{excited_lines, one_period, render};
use conewright::sim::bench::{play, PracticeBench};
use conewright::sim::driver::Driver;
use conewright::sim::jig::Position;
use conewright::sim::practice::{drivers, good_bench};

pub const RATE_HZ: f64 = 48_000.0;

/// A repeated signal of 1 s periods, seven in all, from 10 Hz to 20 kHz.
pub fn stimulus(shape: Shape) -> Stimulus {
    Stimulus {
        shape,
        rate_hz: RATE_HZ,
        period_s: 1.0,
        periods: 7,
        low_hz: 10.0,
        high_hz: 20_000.0,
        peak_dbfs: -12.0,
        seed: 1,
    }
}

/// A bench without errors of its own: ideal jig and inputs, white noise only.
pub fn ideal_bench(driver: &Driver, noise_dbfs: f64) -> PracticeBench {
    let mut bench = good_bench(driver);
    bench.jig.series_resistor_relative_error = 0.0;
    bench.jig.series_resistor_nominal_ohm = 10.0;
    bench.jig.lead_ohm = 0.0;
    for channel in &mut bench.input.channels {
        channel.resistance_ohm = 1e9;
        channel.gain_db = 0.0;
        channel.delay_samples = 0.0;
        channel.coupling_hz = 0.0;
        channel.offset = 0.0;
        channel.noise_dbfs = noise_dbfs;
    }
    bench.input.hum = None;
    bench.input.bits = None;
    bench
}

/// What both inputs hear of a stimulus, with a third of a second of silence around it.
pub fn record(bench: &PracticeBench, stimulus: &Stimulus, position: Position, seed: u64) -> Take {
    let quiet = vec![0.0; (0.3 * stimulus.rate_hz) as usize];
    let dac = [quiet.clone(), render(stimulus).expect("a stimulus"), quiet].concat();
    play(bench, &dac, stimulus.rate_hz, position, seed).expect("a take")
}

/// A driver take.
pub fn driver_take(bench: &PracticeBench, stimulus: &Stimulus, seed: u64) -> RoleTake {
    RoleTake::new("driver", record(bench, stimulus, Position::Driver, seed))
}

/// The reading of one driver take with a plain setup.
pub fn read(bench: &PracticeBench, stimulus: &Stimulus, seed: u64) -> Reading {
    let setup = ImpedanceSetup::plain(bench.jig.series_resistor_nominal_ohm);
    analyse(&setup, &[driver_take(bench, stimulus, seed)]).expect("a usable setup")
}

/// A driver of the practice bench.
pub fn practice_driver(id: &str) -> Driver {
    drivers().into_iter().find(|d| d.id == id).expect("a practice driver").driver
}

/// A driver whose network is richer than the fitted circuits: real (jω)^n as a ladder, creep as a chain of branches.
/// Values as a restorer meets them: f_s 22 to 160 Hz, Q_ms about 2 to 9, Q_es about 0.3 to 1.1, R_e 3.2 to 7.5 Ω.
pub fn random_driver(random: &mut Random) -> Driver {
    let mut driver = practice_driver("twelve").linear();
    let (f_s_hz, r_e_ohm) = (22.0 * 7.0f64.powf(random.uniform()), random.between(3.2, 7.5));
    let (q_ms, q_es) = (2.0 * 4.5f64.powf(random.uniform()), 0.3 * 3.6f64.powf(random.uniform()));
    let mass_kg = 0.03 * (40.0 / f_s_hz);
    let omega = std::f64::consts::TAU * f_s_hz;
    driver.r_e_ohm_at_20_c = r_e_ohm;
    driver.moving_mass_kg = mass_kg;
    driver.suspension.stiffness_n_per_m = omega * omega * mass_kg;
    driver.suspension.creep_per_decade = random.between(0.01, 0.1);
    // Creep adds 0.68 of its share a decade to the loss; what is left of 1/Q_ms is viscous.
    let viscous = 1.0 / q_ms - 0.68 * driver.suspension.creep_per_decade;
    driver.suspension.viscous_n_s_per_m = omega * mass_kg * viscous.max(0.02);
    driver.motor.bl_t_m = (omega * mass_kg * r_e_ohm / q_es).sqrt();
    let n = random.between(0.55, 0.8);
    let at_1_khz_ohm = random.between(0.3, 1.2) * r_e_ohm;
    driver.coil.n = n;
    driver.coil.k_ohm_s_n = at_1_khz_ohm / (std::f64::consts::TAU * 1000.0).powf(n);
    driver
}

/// A jig as it truly is, for takes that are computed line by line.
#[derive(Clone, Copy)]
pub struct TrueJig {
    pub series_ohm: f64,
    pub lead_ohm: f64,
    pub gain: f64,
}

/// A multisine of 1 s periods, six of them after settling, seen through a jig, white noise of `noise` rms in each
/// channel: computed from the impedance on each excited line, the shortest way to many takes.
pub fn computed_take(z_ohm: impl Fn(f64) -> Complex64, jig: TrueJig, noise: f64, random: &mut Random) -> Take {
    let stimulus = stimulus(Shape::Multisine);
    let period = one_period(&stimulus).expect("a stimulus");
    let spectrum = fft::real_forward(&period);
    let mut at_driver = vec![Complex64::default(); spectrum.len()];
    for line in excited_lines(&stimulus) {
        let z = z_ohm(line as f64) + jig.lead_ohm;
        at_driver[line] = spectrum[line] * z / (z + jig.series_ohm) * jig.gain;
    }
    let driver = fft::real_inverse(&at_driver, period.len());
    let mut repeated = |one: &[f64]| -> Vec<f64> {
        let samples = one.len() * 7 + one.len() / 10;
        (0..samples).map(|i| one[i % one.len()] + noise * random.normal()).collect()
    };
    Take::new(RATE_HZ, vec![repeated(&period), repeated(&driver)]).expect("a take")
}

/// Root mean square of the source channel of [`computed_take`].
pub fn computed_level() -> f64 {
    let period = one_period(&stimulus(Shape::Multisine)).expect("a stimulus");
    (period.iter().map(|s| s * s).sum::<f64>() / period.len() as f64).sqrt()
}

/// Lowest count of successes in `trials` that chance gives less often than once in `one_in`, at the given probability.
pub fn least_successes(trials: u32, probability: f64, one_in: f64) -> u32 {
    let mut term = (1.0 - probability).powi(trials as i32);
    let mut below = 0.0;
    for k in 0..=trials {
        if below + term > 1.0 / one_in {
            return k;
        }
        below += term;
        term *= f64::from(trials - k) / f64::from(k + 1) * probability / (1.0 - probability);
    }
    trials
}
