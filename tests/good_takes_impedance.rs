//! Forty good takes, as different as benches are: none is refused, none is doubted, none is warned of.

#![allow(missing_docs)]

mod impedance_bench;

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::fft::Complex64;
use conewright::math::random::Random;
use conewright::signal::reading::{Outcome, Reading};
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::{Shape, Stimulus};
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::jig::Position;
use conewright::sim::noise::Hum;
use conewright::sim::practice::good_bench;
use conewright::sim::truth::{impedance_ohm, truth};
use impedance_bench::*;

const RESISTORS_OHM: [f64; 6] = [4.7, 10.0, 22.0, 47.0, 100.0, 220.0];
const RATES_HZ: [f64; 3] = [44_100.0, 48_000.0, 96_000.0];

fn shape(i: usize) -> Shape {
    [Shape::Sweep, Shape::Multisine][i % 2]
}

/// As loud as a level search leaves it: with a large resistor little reaches the driver's input, and the level is high.
fn played(i: usize, series_ohm: f64, random: &mut Random) -> Stimulus {
    let least_dbfs = if series_ohm > 50.0 { -8.0 } else { -20.0 };
    let s = stimulus(shape(i));
    Stimulus { rate_hz: RATES_HZ[i % 3], peak_dbfs: random.between(least_dbfs, -3.0), ..s }
}

fn with_resistor(role: &str, take: conewright::signal::take::Take, ohm: f64) -> RoleTake {
    RoleTake { resistor_ohm: (role == "known_resistor").then_some(ohm), ..RoleTake::new(role, take) }
}

/// Line by line: noise 45 to 90 dB below the driver's channel, hum 35 to 60 dB below it in every third, with calibrations in
/// every other.
fn computed(i: usize, driver: &Driver, random: &mut Random) -> (Reading, f64) {
    let series_ohm = RESISTORS_OHM[i % 6];
    let jig = TrueJig {
        series_ohm: series_ohm * (1.0 + 0.004 * random.between(-1.0, 1.0)),
        lead_ohm: random.between(0.01, 0.08),
        gain: 1.0 + 0.002 * random.between(-1.0, 1.0),
    };
    let loaded = Loaded::from(driver);
    let z: &dyn Fn(f64) -> Complex64 = &|hz| impedance_ohm(&loaded, hz);
    let played = played(i, series_ohm, random);
    let peak = 10f64.powf(played.peak_dbfs / 20.0);
    let mut bench = Computed { peak, ..Computed::new(played, jig, 0.0) };
    let [_, level] = bench.levels(z);
    bench.noise = level * 10f64.powf(-random.between(45.0, 90.0) / 20.0);
    let hum_dbfs = 20.0 * level.log10() - random.between(35.0, 60.0);
    bench.hum = (i % 3 == 0).then_some(Hum { mains_hz: [50.0, 60.0][i % 2], fundamental_dbfs: hum_dbfs });
    bench.bits = [None, Some(16), Some(24)][random.below(3)];
    let mut takes = vec![RoleTake::new("driver", bench.take(z, Clipped::Driver, random))];
    if (i / 2) % 2 == 0 {
        let quiet = Computed { hum: None, ..bench.clone() };
        let known_ohm = [8.2, 22.0][random.below(2)];
        for (role, clipped) in [
            ("same_node", Clipped::SameNode),
            ("known_resistor", Clipped::Resistor(known_ohm)),
            ("short", Clipped::Short),
            ("open", Clipped::Open),
        ] {
            takes.push(with_resistor(role, quiet.take(z, clipped, random), known_ohm));
        }
    }
    (analyse(&ImpedanceSetup::plain(series_ohm), &takes).expect("a setup"), truth(&loaded).f_s_hz)
}

/// In the time domain, with the practice bench's loads, couplings, noise and last bits.
fn simulated(i: usize, driver: &Driver, random: &mut Random) -> (Reading, f64) {
    let series_ohm = RESISTORS_OHM[i % 6];
    let mut s = played(i, series_ohm, random);
    s.periods = 5;
    let mut bench = good_bench(driver);
    bench.jig.series_resistor_nominal_ohm = series_ohm;
    bench.input.bits = [Some(16), Some(24)][random.below(2)];
    let mut takes = vec![driver_take(&bench, &s, i as u64)];
    if (i / 8) % 2 == 1 {
        for (role, position) in [("same_node", Position::SameNode), ("short", Position::Short)] {
            takes.push(RoleTake::new(role, record(&bench, &s, position, 100 + i as u64)));
        }
    }
    (analyse(&ImpedanceSetup::plain(series_ohm), &takes).expect("a setup"), truth(&Loaded::from(driver)).f_s_hz)
}

/// Two halves, so that two processors share them.
fn good_takes(range: std::ops::Range<usize>) {
    for i in range {
        let mut random = Random::new(40 + i as u64);
        let driver = random_driver(&mut random);
        let (reading, f_s_hz) =
            if i % 8 == 3 { simulated(i, &driver, &mut random) } else { computed(i, &driver, &mut random) };
        assert_eq!(reading.refusal, None, "take {i}");
        let warnings: Vec<_> = reading.warnings.iter().map(|w| w.message.as_str()).collect();
        assert_eq!(warnings, Vec::<&str>::new(), "take {i}");
        assert_eq!(reading.outcome, Outcome::Reading, "take {i}");
        // And it is this driver that was read: four standard uncertainties (the policy's statistical tolerance).
        let f_s = &reading.values["f_s_hz"];
        let u = f_s.standard_uncertainty.expect("an uncertainty");
        assert!((f_s.value - f_s_hz).abs() < 4.0 * u, "take {i}: {} Hz for {f_s_hz}, ± {u}", f_s.value);
    }
}

#[test]
fn twenty_good_takes() {
    good_takes(0..20);
}

#[test]
fn twenty_more() {
    good_takes(20..40);
}
