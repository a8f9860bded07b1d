//! Takes of a microphone at the cone, without and with a resistor in series.
#![allow(dead_code)] // each test file uses its part

use conewright::driver::mic_impedance_check::MicImpedanceSetup;
use conewright::math::fft;
use conewright::procedure::defaults;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Stimulus;
use conewright::signal::take::Take;
use conewright::signal::test_signals::render;
use conewright::sim::bench::PracticeBench;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::hands::hear;
use conewright::sim::microphone::Microphone;
use conewright::sim::practice::good_microphone;
use conewright::sim::truth::truth;

use super::impedance_bench::ideal_bench;

pub const RATE_HZ: f64 = 48_000.0;
const SERIES_OHM: f64 = 8.2;
const OUTPUT_OHM: f64 = 0.15;

/// An amplifier, a driver, a microphone and a room.
pub struct Scene {
    pub bench: PracticeBench,
    pub microphone: Microphone,
    pub period_s: f64,
    pub peak_dbfs: f64,
    pub series_ohm: f64,
}

impl Scene {
    /// A quiet room; 1 V or so at the driver.
    pub fn quiet(driver: &Driver) -> Self {
        let mut bench = ideal_bench(driver, -94.0);
        bench.jig.output_ohm = OUTPUT_OHM;
        bench.jig.source_full_scale_v = 4.0;
        let microphone = Microphone { full_scale_db_spl: 130.0, ..good_microphone() };
        Scene { bench, microphone, period_s: 1.0, peak_dbfs: -12.0, series_ohm: SERIES_OHM }
    }

    /// The setup with the shape that makes the travel equal, as the driver's own figures give it.
    pub fn setup(&self) -> MicImpedanceSetup {
        let t = truth(&Loaded::from(&self.bench.driver));
        let loaded_q =
            |ohm: f64| t.q_ms * t.q_es * (1.0 + ohm / t.r_e_ohm) / (t.q_ms + t.q_es * (1.0 + ohm / t.r_e_ohm));
        let (below, above) = (loaded_q(OUTPUT_OHM), loaded_q(OUTPUT_OHM + self.series_ohm));
        let louder = (t.r_e_ohm + OUTPUT_OHM + self.series_ohm) / (t.r_e_ohm + OUTPUT_OHM);
        MicImpedanceSetup {
            output_resistance_ohm: Some(OUTPUT_OHM),
            shaped_louder_db: Some(20.0 * louder.log10()),
            shaped_at_hz: Some(t.f_s_hz),
            shaped_q_without: Some(below),
            shaped_q_with: Some(above),
            ..MicImpedanceSetup::plain(self.series_ohm)
        }
    }

    fn stimulus(&self) -> Stimulus {
        Stimulus { period_s: self.period_s, high_hz: 1000.0, ..defaults::marked(RATE_HZ, self.peak_dbfs) }
    }

    /// One take; `played` shapes what is played, line by line.
    fn take(&self, series_ohm: f64, begun: usize, seed: u64, played: impl Fn(f64) -> f64) -> Take {
        let mut dac = [vec![0.0; begun], render(&self.stimulus()).expect("a stimulus"), vec![0.0; 4800]].concat();
        let n = fft::fast_length(dac.len());
        dac.resize(n, 0.0);
        let mut lines = fft::real_forward(&dac);
        lines.iter_mut().enumerate().skip(1).for_each(|(k, l)| *l *= played(k as f64 * RATE_HZ / n as f64));
        let dac = fft::real_inverse(&lines, n);
        let mut bench = self.bench.clone();
        bench.jig.series_resistor_nominal_ohm = series_ohm;
        hear(&bench, &self.microphone, &dac, RATE_HZ, seed).expect("a take")
    }

    /// Without, with, without.
    pub fn takes(&self, setup: &MicImpedanceSetup, seed: u64) -> Vec<RoleTake> {
        vec![
            RoleTake::new("without", self.take(1e-6, 4000, seed, |_| 1.0)),
            self.shaped(setup, seed + 1),
            RoleTake::new("without", self.take(1e-6, 7777, seed + 2, |_| 1.0)),
        ]
    }

    /// With the resistor, played as the setup says.
    pub fn shaped(&self, setup: &MicImpedanceSetup, seed: u64) -> RoleTake {
        RoleTake::new("with_shaped", self.take(self.series_ohm, 6051, seed, |hz| setup.played(hz)))
    }

    /// With the resistor, played as without it.
    pub fn plainly_with(&self, seed: u64) -> RoleTake {
        RoleTake::new("with", self.take(self.series_ohm, 5030, seed, |_| 1.0))
    }

    /// Without it, another one across the output.
    pub fn loaded(&self, across_ohm: f64, seed: u64) -> RoleTake {
        let mut scene = Scene { bench: self.bench.clone(), microphone: self.microphone.clone(), ..*self };
        scene.bench.jig = scene.bench.jig.loaded(across_ohm);
        RoleTake { resistor_ohm: Some(across_ohm), ..RoleTake::new("loaded", scene.take(1e-6, 6100, seed, |_| 1.0)) }
    }

    /// What the microphone hears while nothing plays.
    pub fn silence(&self, seed: u64) -> RoleTake {
        let quiet = vec![0.0; (6.0 * RATE_HZ) as usize];
        let take = hear(&self.bench, &self.microphone, &quiet, RATE_HZ, seed).expect("a take");
        RoleTake::new("silence", take)
    }
}
