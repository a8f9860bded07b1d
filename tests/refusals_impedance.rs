//! Every bad take of the two-channel check is refused or warned of, each for its own reason.

#![allow(missing_docs)]

mod impedance_bench;

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::random::Random;
use conewright::signal::notice::Code;
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Shape;
use conewright::signal::take::Take;
use conewright::sim::faults::Fault;
use conewright::sim::jig::Position;
use conewright::sim::practice::good_bench;
use impedance_bench::*;

fn codes(reading: &Reading) -> Vec<Code> {
    reading.refusal.iter().chain(&reading.warnings).map(|n| n.code).collect()
}

fn expect(reading: &Reading, code: Code, label: &str) {
    assert!(codes(reading).contains(&code), "{label}: {:?} {:?}", reading.refusal, reading.warnings);
}

fn expect_refused(reading: &Reading, code: Code, label: &str) {
    assert_eq!(reading.refusal.as_ref().map(|n| n.code), Some(code), "{label}: {:?}", reading.warnings);
    assert!(reading.values.is_empty(), "{label}: a refusal carries no figures");
}

#[test]
fn faults_of_the_practice_bench() {
    for (shape, id) in [(Shape::Sweep, "six"), (Shape::Multisine, "twelve")] {
        let mut s = stimulus(shape);
        s.peak_dbfs = -6.0;
        let reading = |fault: Fault| read(&fault.on(good_bench(&practice_driver(id))), &s, 1);
        for (fault, code) in [
            (Fault::SwappedChannels, Code::SwappedChannels),
            (Fault::MonoInput, Code::SameChannels),
            (Fault::DeadChannel, Code::DeadChannel),
            (Fault::Silent, Code::Silent),
            (Fault::OpenCircuit, Code::OpenCircuit),
            (Fault::ShortCircuit, Code::ShortCircuit),
            (Fault::Clipped, Code::Clipped),
            (Fault::GainRiding, Code::GainRiding),
        ] {
            expect_refused(&reading(fault), code, &format!("{fault:?} {shape:?}"));
        }
        for (fault, code) in [
            (Fault::Hum, Code::Hum),
            (Fault::Noise, Code::Noise),
            (Fault::LooseJoint, Code::Noise),
            (Fault::LostBuffer, Code::Gap),
            (Fault::DirectCurrent, Code::DirectCurrent),
        ] {
            expect(&reading(fault), code, &format!("{fault:?} {shape:?}"));
        }
        assert_eq!(codes(&reading(Fault::None)), [], "{shape:?}");
    }
}

#[test]
fn a_wrong_resistor_is_found_by_a_known_one() {
    let bench = Fault::WrongResistor.on(good_bench(&practice_driver("six")));
    let s = stimulus(Shape::Multisine);
    let mut known =
        RoleTake::new("known_resistor", record(&bench, &s, Position::KnownResistor { resistor_ohm: 10.0 }, 2));
    known.resistor_ohm = Some(10.0);
    let takes = [driver_take(&bench, &s, 1), known];
    expect_refused(&analyse(&ImpedanceSetup::plain(47.0), &takes).unwrap(), Code::WrongResistor, "known resistor");
    // Without one only an impossible coil gives it away: 10 Ω in the jig, 470 Ω in the setup.
    let bench = ideal_bench(&practice_driver("six"), -90.0);
    let reading = analyse(&ImpedanceSetup::plain(470.0), &[driver_take(&bench, &s, 1)]).unwrap();
    expect(&reading, Code::WrongResistor, "impossible coil");
}

#[test]
fn takes_that_contradict_each_other() {
    let s = stimulus(Shape::Multisine);
    let take = |id: &str| driver_take(&ideal_bench(&practice_driver(id), -90.0), &s, 1);
    let reading = analyse(&ImpedanceSetup::plain(10.0), &[take("twelve"), take("six")]).unwrap();
    expect_refused(&reading, Code::Contradiction, "two drivers");
    let reading = analyse(&ImpedanceSetup::plain(10.0), &[take("six"), take("six")]).unwrap();
    assert_eq!(codes(&reading), [], "the same driver twice");
    assert_eq!(reading.refusal, None);
}

#[test]
fn calibrations_that_are_not_what_they_say() {
    let bench = ideal_bench(&practice_driver("six"), -90.0);
    let s = stimulus(Shape::Multisine);
    let with = |role: &str, position| {
        let takes = [driver_take(&bench, &s, 1), RoleTake::new(role, record(&bench, &s, position, 2))];
        analyse(&ImpedanceSetup::plain(10.0), &takes).unwrap()
    };
    expect_refused(&with("same_node", Position::Driver), Code::NotOneClip, "driver as same node");
    expect_refused(&with("short", Position::Driver), Code::NotShorted, "driver as short");
}

#[test]
fn no_driver_no_band_no_time_no_signal() {
    let bench = ideal_bench(&practice_driver("six"), -90.0);
    let s = stimulus(Shape::Multisine);
    let of = |take: Take| analyse(&ImpedanceSetup::plain(10.0), &[RoleTake::new("driver", take)]).unwrap();
    let resistor = record(&bench, &s, Position::KnownResistor { resistor_ohm: 8.2 }, 1);
    expect_refused(&of(resistor), Code::ModelMisfit, "a resistor");
    let mut narrow = s.clone();
    narrow.low_hz = 120.0;
    expect_refused(&of(record(&bench, &narrow, Position::Driver, 1)), Code::BandTooNarrow, "band above f_s");
    let take = record(&bench, &s, Position::Driver, 1);
    let part = |range: std::ops::Range<usize>| {
        Take::new(RATE_HZ, take.channels().iter().map(|c| c[range.clone()].to_vec()).collect()).unwrap()
    };
    expect_refused(&of(part(60_000..84_000)), Code::TooShort, "half a second");
    let mut random = Random::new(1);
    let mut loud = |scale: f64| -> Vec<f64> { (0..960_000).map(|_| scale * random.normal()).collect() };
    let (x, y) = (loud(0.1), loud(0.1));
    expect_refused(&of(Take::new(RATE_HZ, vec![x, y]).unwrap()), Code::Noise, "two noises that are strangers");
    let bursts = |samples: Vec<f64>| -> Vec<f64> {
        samples
            .iter()
            .enumerate()
            .map(|(i, s)| if (i / 9_000) % 3 == 0 { s * (i % 9_000) as f64 / 9e3 } else { 0.0 })
            .collect()
    };
    let speech = bursts(loud(0.2));
    let quieter: Vec<f64> = speech.iter().map(|s| 0.5 * s).collect();
    expect_refused(&of(Take::new(RATE_HZ, vec![speech, quieter]).unwrap()), Code::NoStimulus, "bursts");
    let mut slow = s.clone();
    (slow.rate_hz, slow.high_hz) = (16_000.0, 7000.0);
    expect(&read(&bench, &slow, 1), Code::LowRate, "a headset's rate");
}
