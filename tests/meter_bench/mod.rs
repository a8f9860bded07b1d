//! A bench with a simulated meter: drivers of [`super::impedance_bench`], tones as the procedure proposes them.
#![allow(dead_code)] // each test file uses its part

use super::impedance_bench::{practice_driver, random_driver};
use conewright::driver::meter_check::analyse;
use conewright::driver::meter_next::next_tone;
use conewright::driver::meter_setup::MeterSetup;
use conewright::electrical::meter_accuracy::MeterAccuracy;
use conewright::electrical::meter_reading::MeterReading;
use conewright::math::random::Random;
use conewright::signal::reading::Reading;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::meter::Meter;
use conewright::sim::truth::{impedance_ohm, truth, Truth};

/// What is at hand.
#[derive(Clone, Copy)]
pub struct Bench {
    /// Half-widths of the errors: differing from reading to reading, and of the gain.
    pub unsteady: f64,
    pub gain: f64,
    pub resolution_v: f64,
    pub source_v: f64,
    /// The second voltage is that of the source.
    pub both: bool,
    pub tones: usize,
    /// R_e is read by ohms, the last digit 0.1 Ω.
    pub ohms: bool,
    /// The coil is not at 20 °C and the resistor not what it says.
    pub real: bool,
}

impl Bench {
    /// 0.3 % from reading to reading, nothing cancels.
    pub fn unsteady() -> Bench {
        Bench {
            unsteady: 0.003,
            gain: 0.0,
            resolution_v: 0.001,
            source_v: 1.0,
            both: false,
            tones: 9,
            ohms: true,
            real: false,
        }
    }

    /// 0.3 % of gain, which cancels; no ohms reading.
    pub fn gain_only() -> Bench {
        Bench { unsteady: 0.0, gain: 0.003, ohms: false, ..Bench::unsteady() }
    }

    /// A last digit of 0.1 V at 5 V.
    pub fn coarse() -> Bench {
        Bench { resolution_v: 0.1, source_v: 5.0, ..Bench::unsteady() }
    }

    /// Everything is a little off.
    pub fn honest() -> Bench {
        Bench { gain: 0.003, real: true, ..Bench::unsteady() }
    }
}

/// A reading beside its truth (at 20 °C).
pub struct Trial {
    pub setup: MeterSetup,
    pub reading: Reading,
    pub truth: Truth,
}

impl Trial {
    pub fn true_value(&self, name: &str) -> f64 {
        match name {
            "f_s_hz" => self.truth.f_s_hz,
            "q_ms" => self.truth.q_ms,
            "q_es" => self.truth.q_es,
            "q_ts" => self.truth.q_ts,
            "r_e_ohm" => self.truth.r_e_ohm,
            "z_max_ohm" => self.truth.z_max_ohm,
            _ => f64::NAN,
        }
    }

    pub fn stated_percent(&self, name: &str) -> f64 {
        let figure = &self.reading.values[name];
        100.0 * figure.standard_uncertainty.expect("an uncertainty") / figure.value
    }
}

/// Found over true value, in per cent beyond 1.
pub fn error_percent(trial: &Trial, name: &str) -> f64 {
    100.0 * (trial.reading.values[name].value / trial.true_value(name) - 1.0)
}

struct Jig {
    driver: Driver,
    cold: Driver,
    resistor_ohm: f64,
    meter: Meter,
    random: Random,
}

/// The first three seeds are the practice drivers, the others random ones.
fn jig(seed: u64, bench: &Bench) -> Jig {
    let mut random = Random::new(seed);
    let cold = match seed {
        0..3 => practice_driver(["twelve", "six", "five"][seed as usize]).linear(),
        _ => random_driver(&mut random),
    };
    let mut driver = cold.clone();
    let mut resistor_ohm = 10.0;
    if bench.real {
        driver.excess_temperature_k = 3.0 * random.normal();
        resistor_ohm *= 1.0 + 0.005 * random.normal();
    }
    let meter = Meter {
        resolution_v: bench.resolution_v,
        first_range_v: 1e3,
        gain_error: vec![bench.gain * random.between(-1.0, 1.0)],
        unsteady: bench.unsteady,
        counts: 0.0,
        low_end_hz: 5.0,
        high_end_hz: 20_000.0,
    };
    Jig { driver, cold, resistor_ohm, meter, random }
}

impl Jig {
    fn read(&mut self, hz: f64, bench: &Bench) -> MeterReading {
        let z = impedance_ohm(&Loaded::from(&self.driver), hz);
        let whole = (z + self.resistor_ohm).norm();
        let driver_v = self.meter.display_v(bench.source_v * z.norm() / whole, hz, &mut self.random);
        let true_v = if bench.both { bench.source_v } else { bench.source_v * self.resistor_ohm / whole };
        let other_v = self.meter.display_v(true_v, hz, &mut self.random);
        MeterReading {
            frequency_hz: hz,
            driver_v,
            resistor_v: (!bench.both).then_some(other_v),
            source_v: bench.both.then_some(other_v),
        }
    }
}

/// Readings at given frequencies.
pub fn readings_at(seed: u64, bench: &Bench, hz: &[f64]) -> Vec<MeterReading> {
    let mut jig = jig(seed, bench);
    hz.iter().map(|hz| jig.read(*hz, bench)).collect()
}

/// One whole check by meter.
pub fn trial(seed: u64, bench: &Bench) -> Trial {
    let mut jig = jig(seed, bench);
    let leads_ohm = 0.2;
    let warm_ohm = truth(&Loaded::from(&jig.driver)).r_e_ohm * (1.0 + 0.003 * jig.random.between(-1.0, 1.0));
    let r_e_ohm = ((warm_ohm + leads_ohm) * 10.0).round() / 10.0 - leads_ohm;
    let mut setup = MeterSetup {
        series_resistor_ohm: 10.0,
        series_resistor_relative_uncertainty: None,
        readings: Vec::new(),
        accuracy: MeterAccuracy {
            percent_of_reading: 0.3,
            counts: 0.0,
            resolution_v: bench.resolution_v,
            resolution_above_v: None,
        },
        r_e_ohm: bench.ohms.then_some(r_e_ohm),
        r_e_standard_uncertainty_ohm: None,
        frequency_relative_uncertainty: None,
    };
    while setup.readings.len() < bench.tones {
        let hz = next_tone(&setup).frequency_hz;
        setup.readings.push(jig.read(hz, bench));
    }
    let reading = analyse(&setup, &[]).expect("a usable setup");
    Trial { setup, reading, truth: truth(&Loaded::from(&jig.cold)) }
}
