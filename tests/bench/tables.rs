//! The accuracy tables of all checks, by simulation: run by `pkg-scripts/bench`.
//!
//! Truths come from the time-domain simulator, whose voice coil (a ladder), suspension (creep, progressive) and jig are
//! richer than the fitted circuit. `tables [TRIALS [NAME...]]`, names as in `main`; seeds are fixed, the same numbers
//! come out each time.

#[path = "../impedance_bench/mod.rs"]
mod impedance_bench;
#[path = "../knock_bench/mod.rs"]
mod knock_bench;
mod knocks;
#[path = "../meter_bench/mod.rs"]
mod meter_bench;
mod meters;
#[path = "../mic_bench/mod.rs"]
mod mic_bench;
mod microphone;
mod mounted;
mod one_channel;
#[path = "../one_channel_bench/mod.rs"]
mod one_channel_bench;
mod trials;

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::random::Random;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Shape;
use conewright::sim::bench::PracticeBench;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::input::{BufferFault, Loss};
use conewright::sim::jig::Position;
use conewright::sim::noise::Hum;
use conewright::sim::practice::drivers;
use conewright::sim::truth::truth;
use impedance_bench::{driver_take, ideal_bench, record, stimulus};
use trials::{around, print, summarise, Trial, FIGURES};

fn main() {
    let count: usize = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(60);
    let few = count.min(24);
    let tables: [(&str, &dyn Fn()); 10] = [
        ("impedance", &|| {
            ideal(few);
            real(few);
        }),
        ("stimulus", &|| sweep_or_multisine(count.min(12))),
        ("honesty", &|| {
            honesty(count, false);
            honesty(count, true);
        }),
        ("efficiency", &|| efficiency(count as u64)),
        ("one_channel", &|| one_channel::tables(few)),
        ("microphone", &microphone::tables),
        ("knock", &|| knocks::tables(few)),
        ("meter", &|| meters::tables(few)),
        ("mounted", &|| mounted::tables(few)),
        ("box", &|| knocks::boxes(few)),
    ];
    let asked: Vec<String> = std::env::args().skip(2).collect();
    for (_, table) in tables.iter().filter(|(name, _)| asked.is_empty() || asked.iter().any(|a| a == name)) {
        table();
    }
}

fn one(bench: &PracticeBench, shape: Shape, setup: &ImpedanceSetup, seed: u64) -> Trial {
    let reading = analyse(setup, &[driver_take(bench, &stimulus(shape), seed)]).expect("a usable setup");
    Trial { truth: truth(&Loaded::from(&bench.driver)), reading }
}

fn all_drivers(count: usize) -> impl Iterator<Item = (u64, Driver)> {
    let list: Vec<Driver> = drivers().into_iter().map(|d| d.driver).collect();
    (0..count).map(move |i| (i as u64, list[i % list.len()].clone()))
}

/// A setup that knows the jig exactly, as an ideal jig deserves.
fn exact_setup() -> ImpedanceSetup {
    let mut setup = ImpedanceSetup::plain(10.0);
    setup.series_resistor_relative_uncertainty = Some(1e-5);
    setup
}

fn ideal(count: usize) {
    let trials: Vec<Trial> = all_drivers(count)
        .map(|(seed, driver)| one(&ideal_bench(&driver.linear(), -78.0), Shape::Sweep, &exact_setup(), seed))
        .collect();
    print("Ideal jig, 60 dB signal to noise, sweep (goal: f_s 0.02, Q 0.2, R_e 0.1 %)", &FIGURES, &trials);
}

fn real(count: usize) {
    let trials: Vec<Trial> = all_drivers(count)
        .map(|(seed, driver)| {
            let mut bench = ideal_bench(&driver.linear(), -63.0);
            bench.input.bits = Some(16);
            bench.input.hum = Some(hum());
            one(&bench, Shape::Sweep, &exact_setup(), seed)
        })
        .collect();
    print("45 dB, hum, 16 bit, sweep (goal: f_s 0.05, Q 0.5 %)", &FIGURES, &trials);
}

fn hum() -> Hum {
    Hum { mains_hz: 50.0, fundamental_dbfs: -55.0 }
}

/// Which signal should be the default? Worst and typical error of both under the same troubles.
fn sweep_or_multisine(count: usize) {
    println!("\nSweep against multisine: root mean square error in % (f_s, Q_ms, Q_ts, R_e), {count} trials each");
    type Trouble = (&'static str, fn(&Driver) -> PracticeBench);
    let troubles: [Trouble; 5] = [
        ("noise, 60 dB", |d| ideal_bench(&d.linear(), -78.0)),
        ("noise, 40 dB", |d| ideal_bench(&d.linear(), -58.0)),
        ("hum", |d| {
            let mut bench = ideal_bench(&d.linear(), -78.0);
            bench.input.hum = Some(hum());
            bench
        }),
        ("distortion (large travel)", |d| {
            let mut bench = ideal_bench(d, -78.0);
            bench.jig.source_full_scale_v *= 4.0;
            for channel in &mut bench.input.channels {
                channel.full_scale_v *= 4.0;
            }
            bench
        }),
        ("a lost buffer", |d| {
            let mut bench = ideal_bench(&d.linear(), -78.0);
            bench.input.buffer_faults = vec![BufferFault { at_part: 0.53, samples: 1024, loss: Loss::Dropped }];
            bench
        }),
    ];
    for (name, make) in troubles {
        for (label, shape) in [("sweep", Shape::Sweep), ("multisine", Shape::Multisine)] {
            let trials: Vec<Trial> =
                all_drivers(count).map(|(seed, d)| one(&make(&d), shape, &exact_setup(), seed)).collect();
            let rms = |figure| {
                summarise(&trials, figure).map_or("-".to_owned(), |s| format!("{:.4}", 100.0 * s.bias.hypot(s.spread)))
            };
            println!(
                "  {name:<27}{label:<11}{:>9}{:>9}{:>9}{:>9}",
                rms("f_s_hz"),
                rms("q_ms"),
                rms("q_ts"),
                rms("r_e_ohm")
            );
        }
    }
}

/// Are the stated intervals honest when the truth is richer than the model and the jig is not ideal? And what do the jig's
/// own takes take out?
fn honesty(count: usize, calibrated: bool) {
    let trials: Vec<Trial> = all_drivers(count)
        .map(|(seed, driver)| {
            let mut random = Random::new(1000 + seed);
            let mut bench = ideal_bench(&vary(driver, &mut random), -74.0);
            bench.input.bits = Some(16);
            bench.jig.series_resistor_relative_error = around(&mut random, 0.0, 0.005);
            bench.jig.lead_ohm = 0.05 * random.uniform();
            bench.input.channels[0].gain_db = around(&mut random, 0.0, 0.02 / 2f64.sqrt());
            bench.input.channels[1].gain_db = around(&mut random, 0.0, 0.02 / 2f64.sqrt());
            // The figures are those at 20 °C; the coil is within 3 K of it.
            let kelvin = around(&mut random, 0.0, 3.0);
            let cool = truth(&Loaded::from(&bench.driver));
            bench.driver.excess_temperature_k = kelvin;
            let mut takes = vec![driver_take(&bench, &stimulus(Shape::Sweep), seed)];
            if calibrated {
                // A part of 1 %, known as well as the series resistor is.
                let known_ohm = 8.2 * (1.0 + around(&mut random, 0.0, 0.005));
                takes.extend(own_takes(&bench, known_ohm, seed));
            }
            let reading = analyse(&ImpedanceSetup::plain(10.0), &takes).expect("a usable setup");
            Trial { truth: cool, reading }
        })
        .collect();
    let title = match calibrated {
        false => {
            "Honesty: richer truth, 0.5 % resistor, leads to 0.05 ohm, 0.02 dB, 3 K (goal: 91 to 98 % in the interval)"
        }
        true => "The same with both inputs on one clip, a known resistor (0.5 %), the leads zeroed, the inputs alone",
    };
    print(title, &FIGURES, &trials);
}

/// The jig's own takes; the known resistor says 8.2 Ω.
fn own_takes(bench: &PracticeBench, known_ohm: f64, seed: u64) -> Vec<RoleTake> {
    [
        ("same_node", Position::SameNode),
        ("known_resistor", Position::KnownResistor { resistor_ohm: known_ohm }),
        ("short", Position::Short),
        ("open", Position::Open),
    ]
    .into_iter()
    .map(|(role, position)| RoleTake {
        resistor_ohm: (role == "known_resistor").then_some(8.2),
        ..RoleTake::new(role, record(bench, &stimulus(Shape::Sweep), position, 500 + seed))
    })
    .collect()
}

/// How much of what the takes hold is read.
fn efficiency(count: u64) {
    println!("\nEfficiency: root mean square error over the bound of Cramér and Rao, {count} trials (goal: 1.2)");
    for (name, ratio) in impedance_bench::efficiency::spread_over_bound(count) {
        println!("  {name:<13}{ratio:>7.3}");
    }
}

/// Another voice coil and another creep than the practice drivers have.
fn vary(mut driver: Driver, random: &mut Random) -> Driver {
    driver.coil.n = (driver.coil.n + 0.08 * (random.uniform() - 0.5)).clamp(0.5, 0.85);
    driver.coil.k_ohm_s_n *= (0.4 * (random.uniform() - 0.5)).exp();
    driver.suspension.creep_per_decade *= 0.5 + random.uniform();
    driver.suspension.viscous_n_s_per_m *= (0.6 * (random.uniform() - 0.5)).exp();
    driver.suspension.stiffness_n_per_m *= (0.4 * (random.uniform() - 0.5)).exp();
    driver
}
