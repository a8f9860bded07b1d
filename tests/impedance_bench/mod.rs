//! Takes from the simulated bench, as the impedance tests need them.
#![allow(dead_code)] // each test file uses its part

pub mod efficiency;

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
use conewright::sim::noise::Hum;
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
        travel_shape: None,
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
#[derive(Clone, Copy, Debug)]
pub struct TrueJig {
    pub series_ohm: f64,
    pub lead_ohm: f64,
    pub gain: f64,
}

/// What is clipped where, in a take that is computed line by line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Clipped {
    Driver,
    SameNode,
    Resistor(f64),
    Short,
    Open,
}

/// A repeated signal of 1 s periods, six of them after settling, seen through a jig: computed from the impedance on each
/// line, the shortest way to many takes.
#[derive(Clone, Debug)]
pub struct Computed {
    pub stimulus: Stimulus,
    /// Peak of the source, full scale being 1.
    pub peak: f64,
    pub jig: TrueJig,
    /// White noise in each channel, root mean square.
    pub noise: f64,
    /// On the driver's channel.
    pub hum: Option<Hum>,
    /// Of the converter; none is floating point.
    pub bits: Option<u32>,
}

impl Computed {
    pub fn new(stimulus: Stimulus, jig: TrueJig, noise: f64) -> Self {
        Computed { stimulus, peak: 1.0, jig, noise, hum: None, bits: None }
    }

    /// One period of both channels without noise.
    fn period(&self, z_ohm: &dyn Fn(f64) -> Complex64, clipped: Clipped) -> [Vec<f64>; 2] {
        let whole = one_period(&self.stimulus).expect("a stimulus");
        let period: Vec<f64> = whole.iter().map(|s| self.peak * s).collect();
        let spectrum = fft::real_forward(&period);
        let mut at_driver = vec![Complex64::default(); spectrum.len()];
        for line in 1..spectrum.len() {
            let z = match clipped {
                Clipped::Driver => z_ohm(line as f64),
                Clipped::Resistor(ohm) => Complex64::from(ohm),
                _ => Complex64::default(),
            } + self.jig.lead_ohm;
            let ratio = match clipped {
                Clipped::SameNode | Clipped::Open => Complex64::from(1.0),
                _ => z / (z + self.jig.series_ohm),
            };
            at_driver[line] = spectrum[line] * ratio * self.jig.gain;
        }
        let driver = fft::real_inverse(&at_driver, period.len());
        [period, driver]
    }

    /// Root mean square of both channels without noise.
    pub fn levels(&self, z_ohm: &dyn Fn(f64) -> Complex64) -> [f64; 2] {
        let rms = |one: &Vec<f64>| (one.iter().map(|s| s * s).sum::<f64>() / one.len() as f64).sqrt();
        let [source, driver] = self.period(z_ohm, Clipped::Driver);
        [rms(&source), rms(&driver)]
    }

    pub fn take(&self, z_ohm: &dyn Fn(f64) -> Complex64, clipped: Clipped, random: &mut Random) -> Take {
        let [source, driver] = self.period(z_ohm, clipped);
        let rate_hz = self.stimulus.rate_hz;
        let steps = self.bits.map(|b| f64::from(1u32 << (b - 1)));
        let mut repeated = |one: &[f64], hum: Option<Hum>| -> Vec<f64> {
            let samples = one.len() * 7 + one.len() / 10;
            let sample = |i: usize| {
                let hum = hum.map_or(0.0, |h| h.at(i as f64 / rate_hz));
                let value = one[i % one.len()] + hum + self.noise * random.normal();
                steps.map_or(value, |steps| (value * steps).round().clamp(-steps, steps - 1.0) / steps)
            };
            (0..samples).map(sample).collect()
        };
        Take::new(rate_hz, vec![repeated(&source, None), repeated(&driver, self.hum)]).expect("a take")
    }
}

/// A multisine through a jig, white noise of `noise` rms in each channel.
pub fn computed_take(z_ohm: impl Fn(f64) -> Complex64, jig: TrueJig, noise: f64, random: &mut Random) -> Take {
    Computed::new(stimulus(Shape::Multisine), jig, noise).take(&z_ohm, Clipped::Driver, random)
}

/// Root mean square of the source channel of [`computed_take`].
pub fn computed_level() -> f64 {
    let period = one_period(&stimulus(Shape::Multisine)).expect("a stimulus");
    (period.iter().map(|s| s * s).sum::<f64>() / period.len() as f64).sqrt()
}

/// Lowest count of successes in `trials` that chance gives less often than once in `one_in`, at the given probability.
///
/// Successes of independent trials are binomial: P(k) = n!/(k!(n − k)!) pᵏ (1 − p)ⁿ⁻ᵏ, summed from below; by logarithms,
/// because (1 − p)ⁿ of some hundred trials is less than the least number there is.
pub fn least_successes(trials: u32, probability: f64, one_in: f64) -> u32 {
    let odds = (probability / (1.0 - probability)).ln();
    let mut term = f64::from(trials) * (1.0 - probability).ln();
    let mut below = 0.0;
    for k in 0..trials {
        below += term.exp();
        if below > 1.0 / one_in {
            return k;
        }
        term += (f64::from(trials - k) / f64::from(k + 1)).ln() + odds;
    }
    trials
}

/// Highest count of successes that chance passes less often than once in `one_in`: the failures counted from below.
pub fn most_successes(trials: u32, probability: f64, one_in: f64) -> u32 {
    trials - least_successes(trials, 1.0 - probability, one_in)
}
