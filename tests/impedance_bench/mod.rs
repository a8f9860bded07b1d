//! Takes from the simulated bench, as the impedance tests need them.
#![allow(dead_code)] // each test file uses its part

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::{Shape, Stimulus};
use conewright::signal::take::Take;
use conewright::signal::test_signals::render;
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
