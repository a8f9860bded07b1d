//! Figures of the two-channel impedance against the truth of the simulated driver (time domain, richer than the fit).
//! Goals stand in the project's accuracy table: ideal jig at 60 dB: f_s 0.02 %, Q's 0.2 %, R_e 0.1 %; at 45 dB, or with
//! hum at 16 bit: f_s 0.05 %, Q's 0.5 %.

#![allow(missing_docs)]

mod impedance_bench;

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::random::Random;
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Shape;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::jig::Position;
use conewright::sim::noise::Hum;
use conewright::sim::truth::truth;
use impedance_bench::*;

/// Relative errors of f_s, Q_ms, Q_es, Q_ts, R_e, Z_max in per cent.
fn errors(reading: &Reading, driver: &Driver) -> Vec<(&'static str, f64)> {
    let t = truth(&Loaded::from(driver));
    [
        ("f_s_hz", t.f_s_hz),
        ("q_ms", t.q_ms),
        ("q_es", t.q_es),
        ("q_ts", t.q_ts),
        ("r_e_ohm", t.r_e_ohm),
        ("z_max_ohm", t.z_max_ohm),
    ]
    .into_iter()
    .map(|(name, true_value)| (name, 100.0 * (reading.values[name].value / true_value - 1.0)))
    .collect()
}

fn within(reading: &Reading, driver: &Driver, f_s: f64, q: f64, r_e: f64, label: &str) {
    assert!(reading.refusal.is_none(), "{label}: {:?}", reading.refusal);
    let errors = errors(reading, driver);
    println!("{label}: {errors:.4?}");
    for (name, error) in errors {
        let goal = match name {
            "f_s_hz" => f_s,
            "q_ms" | "q_es" | "q_ts" => q,
            _ => r_e,
        };
        assert!(error.abs() < goal, "{label}: {name} off by {error} %");
    }
}

/// Noise that lies `snr_db` below the source channel's root mean square.
fn noise_dbfs(driver: &Driver, shape: Shape, snr_db: f64) -> f64 {
    let take = driver_take(&ideal_bench(driver, -200.0), &stimulus(shape), 1).take;
    let playing = &take.channel(1).expect("source")[48_000..240_000];
    let power = playing.iter().map(|s| s * s).sum::<f64>() / playing.len() as f64;
    10.0 * power.log10() - snr_db
}

#[test]
fn an_ideal_jig_at_60_db() {
    for (id, shape) in [("twelve", Shape::Sweep), ("six", Shape::Multisine), ("five", Shape::Sweep)] {
        let driver = practice_driver(id).linear();
        let bench = ideal_bench(&driver, noise_dbfs(&driver, shape, 60.0));
        within(&read(&bench, &stimulus(shape), 1), &driver, 0.02, 0.2, 0.1, id);
    }
}

#[test]
fn an_ideal_jig_at_45_db_and_hum_at_16_bit() {
    let driver = practice_driver("twelve").linear();
    let noise = noise_dbfs(&driver, Shape::Multisine, 45.0);
    within(&read(&ideal_bench(&driver, noise), &stimulus(Shape::Multisine), 1), &driver, 0.05, 0.5, 0.5, "45 dB");
    let mut bench = ideal_bench(&driver, noise - 15.0);
    bench.input.hum = Some(Hum { mains_hz: 50.0, fundamental_dbfs: -60.0 });
    bench.input.bits = Some(16);
    for shape in [Shape::Sweep, Shape::Multisine] {
        within(&read(&bench, &stimulus(shape), 2), &driver, 0.05, 0.5, 0.5, "hum, 16 bit");
    }
}

/// A jig with errors of every kind, calibrated by its own takes: what the corrections leave is their own uncertainty
/// (clips 5 mΩ of 6 Ω; everything else is measured), so R_e and Q_es come out within 0.3 %.
#[test]
fn the_jigs_own_takes_correct_it() {
    let driver = practice_driver("six").linear();
    let mut bench = ideal_bench(&driver, -90.0);
    bench.jig.lead_ohm = 0.09;
    for channel in &mut bench.input.channels {
        channel.resistance_ohm = 20_000.0;
        channel.coupling_hz = 3.0;
    }
    bench.input.channels[1].gain_db = 0.2;
    bench.input.channels[1].coupling_hz = 4.0;
    let s = stimulus(Shape::Multisine);
    let take = |role: &str, position| RoleTake::new(role, record(&bench, &s, position, 7));
    let takes = [
        take("driver", Position::Driver),
        take("same_node", Position::SameNode),
        take("short", Position::Short),
        take("open", Position::Open),
    ];
    let setup = ImpedanceSetup::plain(10.0);
    let corrected = analyse(&setup, &takes).expect("a usable setup");
    within(&corrected, &driver, 0.03, 0.3, 0.3, "calibrated");
    let alone = analyse(&setup, &takes[..1]).expect("a usable setup");
    let r_e = errors(&alone, &driver)[4].1;
    assert!(r_e.abs() > 1.0, "without calibration R_e should be off by more than a per cent, not {r_e}");
}

/// Half a per cent of error in the series resistor, proven by a resistor that is right: half of the error goes.
#[test]
fn a_known_resistor_draws_the_series_resistor_in() {
    let driver = practice_driver("six").linear();
    let mut bench = ideal_bench(&driver, -90.0);
    bench.jig.series_resistor_relative_error = 0.006;
    let s = stimulus(Shape::Multisine);
    let mut known =
        RoleTake::new("known_resistor", record(&bench, &s, Position::KnownResistor { resistor_ohm: 8.2 }, 3));
    known.resistor_ohm = Some(8.2);
    let same = RoleTake::new("same_node", record(&bench, &s, Position::SameNode, 4));
    let takes = [driver_take(&bench, &s, 5), same, known];
    let reading = analyse(&ImpedanceSetup::plain(10.0), &takes).expect("a usable setup");
    let r_e = errors(&reading, &driver)[4].1;
    // −0.6 % before; equal trust leaves half of it; the fit's own goal of 0.1 % on top.
    assert!((r_e + 0.3).abs() < 0.1, "{r_e}");
}

/// Signals of unknown origin: a single sweep by the whole record, steady noise by segments.
///
/// Allowed is what the ideal jig is allowed (0.02, 0.2, 0.1 %: the fit's own part), four times what the reading says of its
/// noise (the policy's statistical tolerance; a sweep's scatter between lines, a noise record's from the coherence), and what
/// the way of averaging bends. A line of the response, of half-width h = f_s/(2 Q_ms), seen through a kernel whose second
/// moment is m², loses m²/h² of its height, and its width grows by as much: f_s, where the curve is even, does not move.
/// - Sweep: straight pieces of a sixtieth of an octave (or five lines) with their bend taken off leave the fourth order,
///   (w/h)⁴/10; w = 0.55 Hz, h = 6.9 Hz.
/// - Noise in segments of 8 s: Hann's power kernel has lines of weight 1/6, 2/3, 1/6, hence m² = (1/3)·(1/8 Hz)².
#[test]
fn foreign_recordings_are_read() {
    let driver = practice_driver("six").linear();
    let t = truth(&Loaded::from(&driver));
    let half_width_hz = 0.5 * t.f_s_hz / t.q_ms;
    let bench = ideal_bench(&driver, -90.0);
    let mut random = Random::new(11);
    let rate = RATE_HZ;
    let octaves = (2000f64).ln();
    let sweep = |t: f64| (std::f64::consts::TAU * 10.0 * 8.0 / octaves * ((t / 8.0 * octaves).exp() - 1.0)).sin();
    let mut dac = vec![0.0; 24_000];
    dac.extend((0..8 * 48_000).map(|i| 0.3 * sweep(f64::from(i) / rate)));
    dac.extend(vec![0.0; 96_000]);
    let noise: Vec<f64> = (0..60 * 48_000).map(|_| 0.06 * random.normal()).collect();
    let band_hz = t.f_s_hz * (2f64.powf(1.0 / 60.0) - 1.0);
    let bends = [0.1 * (band_hz / half_width_hz).powi(4), (0.125 / half_width_hz).powi(2) / 3.0];
    for (label, signal, bend) in [("sweep", dac, bends[0]), ("noise", noise, bends[1])] {
        let take = conewright::sim::bench::play(&bench, &signal, rate, Position::Driver, 3).expect("a take");
        let reading = analyse(&ImpedanceSetup::plain(10.0), &[RoleTake::new("driver", take)]).expect("a setup");
        assert_eq!(reading.refusal, None, "{label}");
        for (name, error) in errors(&reading, &driver) {
            let figure = &reading.values[name];
            let noise = figure.budget.iter().find(|c| c.source == "noise").map_or(0.0, |c| c.effect / figure.value);
            let (own, bent) = match name {
                "f_s_hz" => (0.02, 0.0),
                "r_e_ohm" => (0.1, 0.0),
                "z_max_ohm" => (0.1, 100.0 * bend),
                _ => (0.2, 100.0 * bend),
            };
            let allowed = own + 400.0 * noise + bent;
            println!("{label}: {name} off by {error:.4} %, allowed {allowed:.4}, of it noise {:.4}", 400.0 * noise);
            assert!(error.abs() < allowed, "{label}: {name} off by {error} %, allowed {allowed}");
        }
    }
}

/// Efficiency: truth within the model, ideal jig, so that the spread of the figures stands against the Cramér-Rao bound. With
/// n trials the spread itself is known to √(χ²/n); the goal of 1.2 is widened by its 99.99 % point.
#[test]
fn the_spread_is_near_the_cramer_rao_bound() {
    let trials: u64 = std::env::var("CONEWRIGHT_TRIALS").ok().and_then(|t| t.parse().ok()).unwrap_or(40);
    let widening = (conewright::math::quantiles::chi_square(0.9999, trials as f64) / trials as f64).sqrt();
    for (name, ratio) in efficiency::spread_over_bound(trials) {
        println!("{name}: spread over bound {ratio:.3}");
        assert!(ratio < 1.2 * widening, "{name}: {ratio}");
    }
}
