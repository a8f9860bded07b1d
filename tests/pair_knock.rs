//! Two drivers at once: each driver's truth comes back, the stated uncertainty of the difference holds the true difference,
//! and shared errors cancel in it. Everything that the budget calls shared is drawn once for both, everything else twice.

#![allow(missing_docs)]

mod impedance_bench;
mod knock_bench;

use conewright::driver::knock_check::load_for;
use conewright::driver::pair_check::{analyse, PairSetup};
use conewright::driver::pair_knocks::spot_pair;
use conewright::math::random::Random;
use conewright::signal::notice::Code;
use conewright::signal::reading::{Outcome, Reading};
use conewright::signal::role_take::RoleTake;
use conewright::signal::take::Take;
use conewright::sim::bench::PracticeBench;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::faults::Fault;
use conewright::sim::pair::{in_turn, knock_pair, CROSSTALK};
use conewright::sim::practice_pair::{knock_practice_pair, practice_pair_truth, PracticePair};
use conewright::sim::truth::{truth, Truth};
use impedance_bench::least_successes;
use knock_bench::{bench, codes, hum, random_driver};

const NAMES: [&str; 4] = ["f_s", "q_ms", "q_es", "q_ts"];

/// A part that both share and two that each has of its own, so that the sum has the standard deviation `u`.
fn shared_and_own(random: &mut Random, u: f64, own: f64) -> [f64; 2] {
    let common = (1.0 - own * own).sqrt() * random.normal();
    [0, 1].map(|_| u * (common + own * random.normal()))
}

/// Two of a make: they differ by some per cent, and in creep and coil by half of what makes differ by.
fn two_of_a_make(random: &mut Random) -> [Driver; 2] {
    let like = random_driver(random);
    let creep = shared_and_own(random, 0.02, 0.5);
    let reactance = shared_and_own(random, 0.04, 0.5);
    let omega = std::f64::consts::TAU * like.nominal_resonance_hz();
    [0, 1].map(|d| {
        let mut driver = like.clone();
        let mut by = |part: f64| 1.0 + part * random.normal();
        driver.moving_mass_kg *= by(0.03);
        driver.suspension.stiffness_n_per_m *= by(0.06);
        driver.suspension.viscous_n_s_per_m *= by(0.10);
        driver.motor.bl_t_m *= by(0.03);
        driver.r_e_ohm_at_20_c *= by(0.01);
        driver.suspension.creep_per_decade = (0.04 + creep[d]).max(0.002);
        let n = driver.coil.n;
        let x_ohm = (0.06 + reactance[d]).max(0.005) * driver.r_e_ohm_at_20_c;
        driver.coil.k_ohm_s_n = x_ohm / (n * std::f64::consts::FRAC_PI_2).sin() / omega.powf(n);
        driver
    })
}

struct Trial {
    truth: [Truth; 2],
    reading: Reading,
}

fn trial(rate_hz: f64, count: usize, seed: u64) -> Trial {
    let mut random = Random::new(seed);
    let mut drivers = two_of_a_make(&mut random);
    let truth = drivers.each_ref().map(|d| truth(&Loaded::from(d)));
    let warmer = shared_and_own(&mut random, 1.0, 0.3);
    let metered = shared_and_own(&mut random, 0.003, 0.7);
    drivers.iter_mut().zip(warmer).for_each(|(d, kelvin)| d.excess_temperature_k = kelvin);
    let stated_input = 10.0f64.powf(random.between(4.0, 5.5));
    let input = stated_input * (1.0 + 0.1 * random.between(-1.0, 1.0));
    let mut bench = bench(&drivers[0], random.between(2.0, 20.0), input);
    for channel in &mut bench.input.channels {
        channel.resistance_ohm *= 1.0 + 0.01 * random.between(-1.0, 1.0);
        channel.coupling_hz *= 1.0 + 0.1 * random.between(-1.0, 1.0);
        channel.noise_dbfs = random.between(-96.0, -70.0);
    }
    bench.input.hum = hum(1e-3 * random.uniform());
    let load = load_for(1.6, 1.0 / truth[0].q_ms, truth[0].r_e_ohm / truth[0].q_es, truth[0].r_e_ohm).unwrap_or(100.0);
    let true_load = load * (1.0 + 0.01 * random.between(-1.0, 1.0));
    let mut taken = |role: &str, only: Option<usize>| {
        let seed = 1000 * seed + random.below(900) as u64;
        let mut scenes = in_turn([&drivers[0], &drivers[1]], count, rate_hz, seed);
        for (d, scene) in scenes.iter_mut().enumerate() {
            match only {
                Some(o) if o == d => scene.load_ohm = Some(true_load),
                Some(_) => scene.touches.clear(),
                None => {}
            }
        }
        let take = knock_pair(&bench, &drivers[1], [&scenes[0], &scenes[1]], CROSSTALK, seed).expect("a take");
        RoleTake { load_ohm: only.map(|_| load), ..RoleTake::new(role, take) }
    };
    let takes = [taken("free", None), taken("first", Some(0)), taken("second", Some(1))];
    let setup = PairSetup {
        first_r_e_ohm: Some(truth[0].r_e_ohm * (1.0 + metered[0])),
        second_r_e_ohm: Some(truth[1].r_e_ohm * (1.0 + metered[1])),
        input_resistance_ohm: Some(stated_input),
        ..PairSetup::new(1, 2)
    };
    Trial { truth, reading: analyse(&setup, &takes).expect("a usable setup") }
}

fn of(truth: &Truth, name: &str) -> f64 {
    match name {
        "f_s" => truth.f_s_hz,
        "q_ms" => truth.q_ms,
        "q_es" => truth.q_es,
        _ => truth.q_ts,
    }
}

fn trials(few: u32) -> u32 {
    std::env::var("CONEWRIGHT_TRIALS").ok().and_then(|t| t.parse().ok()).unwrap_or(few)
}

/// Bounds as in the coverage of the single knock: below the lower count chance falls once in ten thousand times where 91 %
/// is the true coverage; one stated u must be missed as often as 98 % allows at the most (76.5 % within).
#[test]
fn the_difference_holds_the_truth_and_is_surer_than_its_parts() {
    let trials = trials(4);
    let (mut one, mut two, mut given) = ([0u32; 4], [0u32; 4], [0u32; 4]);
    let (mut gain, mut squares) = ([0.0; 4], [0.0; 4]);
    for seed in 0..u64::from(trials) {
        let t = trial(16_000.0, 4, 40_000 + seed);
        assert!(t.reading.refusal.is_none(), "good takes were refused: {:?}", t.reading.refusal);
        for (k, name) in NAMES.iter().enumerate() {
            let Some(figure) = t.reading.values.get(&format!("difference_{name}_percent")) else { continue };
            let off = (figure.value - 100.0 * (of(&t.truth[0], name) / of(&t.truth[1], name)).ln()).abs();
            let u = figure.standard_uncertainty.expect("an uncertainty");
            given[k] += 1;
            one[k] += u32::from(off <= u);
            two[k] += u32::from(off <= figure.half_width_95.expect("an interval"));
            squares[k] += (off / u).powi(2);
            let unit = if *name == "f_s" { "_hz" } else { "" };
            let part = |d: &str| {
                let figure = &t.reading.values[&format!("{d}_{name}{unit}")];
                100.0 * figure.standard_uncertainty.expect("an uncertainty") / figure.value
            };
            gain[k] += u / part("first").hypot(part("second"));
        }
    }
    for (k, name) in NAMES.iter().enumerate() {
        let n = f64::from(given[k]);
        println!(
            "difference of {name}: {} of {} held, {} within one u, root mean square {:.2} u, {:.2} of the uncertainty \
             that two separate readings leave",
            two[k],
            given[k],
            one[k],
            (squares[k] / n).sqrt(),
            gain[k] / n
        );
        assert!(10 * given[k] >= 9 * trials, "{name} was compared {} times of {trials}", given[k]);
        let least = least_successes(given[k], 0.91, 1e4);
        assert!(two[k] >= least, "{name}: {} of {}, {least} wanted", two[k], given[k]);
        let misses = least_successes(given[k], 1.0 - 0.765, 1e4);
        assert!(given[k] - one[k] >= misses, "{name}: too wide, {} of {} within one u", one[k], given[k]);
        // Whatever two drivers share cannot add: the difference is never less sure than separate readings are.
        assert!(gain[k] / n <= 1.0 + 1e-6, "{name}: {}", gain[k] / n);
    }
}

fn practice(fault: Fault, load_ohm: Option<f64>, only_channel: Option<u32>, seed: u32) -> Take {
    let request =
        PracticePair { driver: "six".to_owned(), fault, knocks: 5, load_ohm, only_channel, rate_hz: 16_000.0, seed };
    knock_practice_pair(&request).expect("a take")
}

fn read(takes: &[RoleTake]) -> Reading {
    let truth = practice_pair_truth("six").expect("a practice driver");
    let setup = PairSetup {
        first_r_e_ohm: Some(truth["first_r_e_ohm"]),
        second_r_e_ohm: Some(truth["second_r_e_ohm"]),
        input_resistance_ohm: Some(47_000.0),
        ..PairSetup::new(1, 2)
    };
    analyse(&setup, takes).expect("a usable setup")
}

fn loaded(role: &str, channel: Option<u32>, seed: u32) -> RoleTake {
    RoleTake { load_ohm: Some(33.0), ..RoleTake::new(role, practice(Fault::None, Some(33.0), channel, seed)) }
}

/// One resistor moved from driver to driver cancels; two of the same print do not. Their 1 % (0.577 % standard, each) adds
/// √2 · 0.577 % · |dln Q_es/dln R_L| to the difference, and the slope is R_L/(R_e + R_L) = 0.84 for 33 Ω on 6.2 Ω.
#[test]
fn one_resistor_cancels_and_two_do_not() {
    let open = RoleTake::new("free", practice(Fault::None, None, None, 1));
    let moved = read(&[open.clone(), loaded("first", Some(1), 2), loaded("second", Some(2), 3)]);
    let two = read(&[open, loaded("free", None, 4)]);
    assert_eq!((moved.outcome, two.outcome), (Outcome::Reading, Outcome::Reading), "{:?}", codes(&moved));
    let load = |r: &Reading| {
        let budget = &r.values["difference_q_es_percent"].budget;
        budget.iter().find(|c| c.source == "load_tolerance").map_or(0.0, |c| c.effect.abs())
    };
    let expected = 100.0 * 2.0f64.sqrt() * 0.01 / 3.0f64.sqrt() * 33.0 / 39.2;
    // The lossy coil and Q_ms take part at first order in X/R and Q_es/Q_ms · 0.84: a tenth.
    assert!((load(&two) / expected - 1.0).abs() < 0.1, "{} against {expected}", load(&two));
    // What is left of a moved one: both slopes differ as R_e and Q_es do, some per cent.
    assert!(load(&moved) < 0.06 * expected, "{}", load(&moved));
    let truth = practice_pair_truth("six").expect("a practice driver");
    for name in NAMES.map(|n| format!("difference_{n}_percent")) {
        let figure = &moved.values[&name];
        let off = (figure.value - truth[&name]).abs();
        // Four standard deviations under a fixed seed.
        assert!(off < 4.0 * figure.standard_uncertainty.expect("an uncertainty"), "{name}: {figure:?}");
    }
}

#[test]
fn what_cannot_be_a_pair_is_refused_with_its_reason() {
    let refused = |fault| {
        let reading = read(&[RoleTake::new("free", practice(fault, None, None, 5))]);
        reading.refusal.expect("a refusal")
    };
    let mono = refused(Fault::MonoInput);
    assert_eq!(mono.code, Code::SameChannels);
    let dead = refused(Fault::DeadChannel);
    assert_eq!((dead.code, dead.numbers["channel"]), (Code::DeadChannel, 2.0));
    assert_eq!(refused(Fault::Silent).code, Code::Silent);
    assert_eq!(refused(Fault::NoKnock).code, Code::NoKnock);
    // A cable from one driver to both inputs, which differ in gain and coupling as channels do.
    let take = practice(Fault::None, None, Some(1), 6);
    let samples = take.channel(1).expect("a channel");
    let bridged = samples.iter().zip(samples.iter().skip(1)).map(|(a, b)| 0.9 * a - 0.01 * (b - a)).collect();
    let both = Take::new(16_000.0, vec![samples[..samples.len() - 1].to_vec(), bridged]).expect("a take");
    let reading = read(&[RoleTake::new("free", both)]);
    assert_eq!(reading.refusal.map(|n| n.code), Some(Code::SameChannels));
    let rub = read(&[RoleTake::new("free", practice(Fault::Rub, None, None, 7))]);
    let said = rub.warnings.iter().chain(&rub.refusal).find(|n| n.code == Code::Friction).expect("friction is named");
    assert!(said.message.starts_with("Driver 2: ") && said.numbers["driver"] == 2.0, "{said:?}");
}

/// A bench that hands a twentieth of one knock to the other coil, and inputs that hear each other at 34 dB: what comes from
/// the other driver does not count, and the figures stand.
#[test]
fn answers_of_the_other_driver_do_not_count() {
    let part = knock_bench::part("six");
    let mut sister = part.driver.clone();
    sister.suspension.stiffness_n_per_m *= 1.05;
    let bench: PracticeBench = bench(&part.driver, 4.0, 47_000.0);
    let [first, second] = in_turn([&part.driver, &sister], 5, 16_000.0, 9);
    let take = knock_pair(&bench, &sister, [&first, &second], 0.02, 9).expect("a take");
    let heard = spot_pair(&take, [1, 2]);
    let usable = |d: usize| heard.iter().filter(|k| k.driver == d && k.knock.set_aside.is_none()).count();
    assert_eq!((usable(0), usable(1)), (5, 5), "{heard:?}");
    let reading = analyse(&PairSetup::new(1, 2), &[RoleTake::new("free", take)]).expect("a usable setup");
    assert!(reading.refusal.is_none(), "{:?}", reading.refusal);
    assert!(codes(&reading).contains(&Code::OtherDriver) && !codes(&reading).contains(&Code::SetAside));
    let difference = reading.values["difference_f_s_percent"].value;
    // f_s goes with the root of the stiffness: −50 ln 1.05 = −2.44 %; the other's ring inside a ring, 2 % of it and 2.4 %
    // away in pitch, moves each by at most 0.02/(2 Q) of f_s, Q 3.5: 0.3 % in each.
    assert!((difference + 50.0 * 1.05f64.ln()).abs() < 0.6, "{difference}");
}

#[test]
fn a_setup_that_cannot_be_used_names_its_field() {
    let take = practice(Fault::None, None, Some(1), 8);
    let field = |setup: &PairSetup, takes: &[RoleTake]| analyse(setup, takes).expect_err("must be refused").field;
    let free = RoleTake::new("free", take.clone());
    assert_eq!(field(&PairSetup::new(1, 1), std::slice::from_ref(&free)), "second_channel");
    assert_eq!(field(&PairSetup::new(1, 3), std::slice::from_ref(&free)), "second_channel");
    assert_eq!(field(&PairSetup::new(1, 2), &[]), "takes");
    assert_eq!(field(&PairSetup::new(1, 2), &[RoleTake::new("third", take.clone())]), "takes[0].role");
    let weighed = RoleTake { added_mass_kg: Some(0.01), ..free.clone() };
    assert_eq!(field(&PairSetup::new(1, 2), &[weighed]), "takes[0].added_mass_kg");
    let wrong = PairSetup { second_r_e_ohm: Some(-6.0), ..PairSetup::new(1, 2) };
    assert_eq!(field(&wrong, &[free]), "second_r_e_ohm");
    assert_eq!(field(&PairSetup::new(1, 2), &[RoleTake::new("first", take)]), "takes");
}
