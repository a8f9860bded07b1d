//! Good takes of many kinds: none refused, none warned of. And takes that contradict each other, fall back without a ring, or
//! lost samples.

#![allow(missing_docs)]

mod knock_bench;

use conewright::driver::knock_check::{analyse, KnockSensor, KnockSetup};
use conewright::math::random::Random;
use conewright::signal::notice::Code;
use conewright::signal::reading::{Outcome, Reading};
use conewright::signal::role_take::RoleTake;
use conewright::sim::input::{BufferFault, Loss};
use knock_bench::*;

/// Forty takes by the coil and a microphone: drivers, rates, levels, coupling 2 to 20 Hz, inputs of 2.2 kΩ to 1 MΩ, three
/// to eight knocks, loads; 16 bit and 1 mV of hum throughout.
#[test]
fn of_forty_good_takes_none_is_refused_or_warned_of() {
    let mut random = Random::new(40);
    for k in 0..40_u64 {
        let part = part(["twelve", "six", "five"][k as usize % 3]);
        let sensor = if k % 4 == 3 { KnockSensor::Microphone } else { KnockSensor::Coil };
        let input_ohm = 2200.0 * 450.0f64.powf(random.uniform());
        let mut bench = bench(&part.driver, 2.0 * 10.0f64.powf(random.uniform()), input_ohm);
        bench.input.hum = hum(1e-3);
        let mut knocks = Knocks::new(bench, sensor, 4000 + k);
        knocks.count = 3 + random.below(6);
        knocks.rate_hz = [44_100.0, 48_000.0, 44_100.0, 48_000.0, 96_000.0][k as usize % 5];
        knocks.strength = 0.4 * 5.0f64.powf(random.uniform());
        // Between a tenth and ten times as much damping by the coil as the suspension has of itself, but it rings.
        let loaded_q = random.between(1.0, 0.8 * part.truth.q_ms);
        let truth = &part.truth;
        let load = truth.r_e_ohm / truth.q_es / (1.0 / loaded_q - 1.0 / truth.q_ms) - truth.r_e_ohm;
        knocks.load_ohm = (k % 3 == 1).then_some(load);
        let setup = KnockSetup { r_e_ohm: Some(truth.r_e_ohm), ..KnockSetup::new(sensor, 1) };
        let reading = analyse(&setup, &[knocks.take()]).expect("a usable setup");
        assert!(
            reading.outcome == Outcome::Reading && codes(&reading).is_empty(),
            "take {k}, {} {sensor:?} at {} with {:?} Ω, strength {:.2}: {:?} {:?}",
            part.id,
            knocks.rate_hz,
            knocks.load_ohm,
            knocks.strength,
            reading.outcome,
            reading.warnings.iter().chain(&reading.refusal).map(|n| (n.code, &n.numbers)).collect::<Vec<_>>()
        );
    }
}

/// Five knocks on a driver, by the coil.
fn five_knocks(id: &str, seed: u64) -> Knocks {
    let mut knocks = Knocks::new(bench(&part(id).driver, 4.0, 47_000.0), KnockSensor::Coil, seed);
    knocks.count = 5;
    knocks
}

/// Figure over its truth, less one, in standard uncertainties.
fn off(reading: &Reading, name: &str, truth: f64) -> f64 {
    let figure = &reading.values[name];
    (figure.value - truth) / figure.standard_uncertainty.expect("an uncertainty")
}

#[test]
fn takes_of_two_drivers_and_a_wrong_load_contradict() {
    let six = five_knocks("six", 1).take();
    let other = five_knocks("twelve", 2).take();
    let reading = read(KnockSensor::Coil, &[six.clone(), other]);
    assert_eq!(reading.refusal.as_ref().map(|n| n.code), Some(Code::Contradiction), "{:?}", codes(&reading));
    // 100 Ω is what it says; 330 Ω is said to be 33.
    let loaded = |ohm: f64, said: f64, seed: u64| {
        let knocks = Knocks { load_ohm: Some(ohm), ..five_knocks("six", seed) };
        RoleTake { load_ohm: Some(said), ..knocks.take() }
    };
    let right = read(KnockSensor::Coil, &[six.clone(), loaded(100.0, 100.0, 3), loaded(33.0, 33.0, 4)]);
    assert_eq!((right.outcome, codes(&right)), (Outcome::Reading, Vec::new()));
    let wrong = read(KnockSensor::Coil, &[six.clone(), loaded(100.0, 100.0, 3), loaded(330.0, 33.0, 4)]);
    assert!(wrong.outcome != Outcome::Reading && codes(&wrong).contains(&Code::Contradiction), "{:?}", codes(&wrong));
    // Another driver behind a load that is stated rightly.
    let stranger = Knocks { load_ohm: Some(100.0), ..five_knocks("five", 5) }.take();
    let reading = read(KnockSensor::Coil, &[six, stranger]);
    assert_eq!(reading.refusal.as_ref().map(|n| n.code), Some(Code::Contradiction), "{:?}", codes(&reading));
}

#[test]
fn a_short_is_refused_as_overdamped() {
    for id in ["twelve", "six"] {
        let short = Knocks { load_ohm: Some(0.1), ..five_knocks(id, 1) }.take();
        let reading = read(KnockSensor::Coil, std::slice::from_ref(&short));
        let refusal = reading.refusal.as_ref().unwrap_or_else(|| panic!("{id}: {:?}", reading.values));
        assert_eq!(refusal.code, Code::Overdamped, "{id}: {refusal:?}");
        assert!(!refusal.remedy.is_empty() && refusal.numbers.contains_key("q_at_least"), "{refusal:?}");
        // Beside an open take it is left out with its reason, and the open take is read.
        let both = read(KnockSensor::Coil, &[five_knocks(id, 2).take(), short]);
        assert!(codes(&both).contains(&Code::Overdamped) && both.values.contains_key("q_ms"), "{:?}", codes(&both));
    }
}

/// Where the knocks of a take begin, in parts of it.
fn knock_parts(knocks: &Knocks) -> (Vec<f64>, f64) {
    let take = knocks.take().take;
    let found = conewright::driver::knock_check::spot_knocks(&take, 1);
    (found.iter().map(|k| k.time_s).collect(), take.duration_s())
}

#[test]
fn a_buffer_lost_inside_a_ring_is_told_and_its_knock_set_aside() {
    let part = part("six");
    for loss in [Loss::Zeros, Loss::Dropped, Loss::Repeated] {
        let mut knocks = five_knocks("six", 1);
        let (times, duration_s) = knock_parts(&knocks);
        // One time constant of 23 ms behind the onset: the ring still has a third of its height.
        let at_part = (times[2] + 0.04) / duration_s;
        knocks.bench.input.buffer_faults = vec![BufferFault { at_part, samples: 512, loss }];
        let reading = read(KnockSensor::Coil, &[knocks.take()]);
        assert!(codes(&reading).contains(&Code::Gap), "{loss:?}: {:?}", codes(&reading));
        for (name, truth) in [("f_s_hz", part.truth.f_s_hz), ("q_ms", part.truth.q_ms)] {
            assert!(off(&reading, name, truth).abs() < 3.0, "{loss:?}: {name} {:.1} u", off(&reading, name, truth));
        }
    }
}

/// Each ring is fitted by itself, hum with a phase of its own; the stretches between tell only colour of the noise and
/// frequency of the hum. Samples lost there need not be found.
#[test]
fn a_buffer_lost_between_knocks_changes_nothing() {
    let part = part("six");
    let mut knocks = five_knocks("six", 1);
    knocks.bench.input.hum = hum(1e-3);
    let (times, duration_s) = knock_parts(&knocks);
    let whole = read(KnockSensor::Coil, &[knocks.take()]);
    // Half a cycle of 50 Hz turns the hum's phase round: the worst that a loss can do to it.
    for (loss, samples) in [(Loss::Dropped, 480), (Loss::Dropped, 1024), (Loss::Repeated, 480), (Loss::Zeros, 1024)] {
        let at_part = (times[2] - 0.4) / duration_s;
        let mut broken = knocks.clone();
        broken.bench.input.buffer_faults = vec![BufferFault { at_part, samples, loss }];
        let reading = read(KnockSensor::Coil, &[broken.take()]);
        for (name, truth) in [("f_s_hz", part.truth.f_s_hz), ("q_ms", part.truth.q_ms)] {
            let u = whole.values[name].standard_uncertainty.expect("an uncertainty");
            let moved = (reading.values[name].value - whole.values[name].value).abs();
            // A fifth adds 2 % to the uncertainty, were it put in.
            assert!(moved < 0.2 * u, "{loss:?} {samples}: {name} moved by {:.2} u", moved / u);
            assert!(off(&reading, name, truth).abs() < 3.0, "{name}");
        }
    }
}
