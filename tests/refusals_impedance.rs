//! Every bad take of the two-channel check is refused or warned of, each for its own reason.

#![allow(missing_docs)]

mod impedance_bench;

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::random::Random;
use conewright::signal::notice::Code;
use conewright::signal::reading::{Outcome, Reading};
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Shape;
use conewright::signal::take::Take;
use conewright::sim::faults::Fault;
use conewright::sim::input::{BufferFault, Loss};
use conewright::sim::jig::Position;
use conewright::sim::noise::Hum;
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

/// 33 Ω in the jig, 47 Ω typed: nothing in the take tells it, and the reading says on what its ohms rest. A meter at the
/// coil tells it, and which resistor would agree.
#[test]
fn a_wrong_resistor_is_found_by_a_meter() {
    let part = practice_driver("six").linear();
    let mut bench = ideal_bench(&part, -90.0);
    bench.jig.series_resistor_nominal_ohm = 33.0;
    let take = driver_take(&bench, &stimulus(Shape::Multisine), 1);
    let with = |r_e_ohm: Option<f64>| {
        let setup = ImpedanceSetup { r_e_ohm, ..ImpedanceSetup::plain(47.0) };
        analyse(&setup, std::slice::from_ref(&take)).unwrap()
    };
    let blind = with(None);
    assert_eq!((codes(&blind), blind.chosen["scale"].as_str()), (vec![], "typed_resistor"));
    let told = with(Some(part.r_e_ohm_at_20_c));
    assert_eq!((codes(&told), told.outcome), (vec![Code::WrongResistor], Outcome::Doubtful));
    let fitting_ohm = told.warnings[0].numbers["fitting_ohm"];
    // The ideal jig reads R_e within 0.1 %.
    assert!((fitting_ohm / 33.0 - 1.0).abs() < 1e-3, "{fitting_ohm}");
    // The right resistor agrees with the meter.
    bench.jig.series_resistor_nominal_ohm = 47.0;
    let take = driver_take(&bench, &stimulus(Shape::Multisine), 1);
    let setup = ImpedanceSetup { r_e_ohm: Some(part.r_e_ohm_at_20_c + 0.15), ..ImpedanceSetup::plain(47.0) };
    let right = analyse(&setup, &[take]).unwrap();
    assert_eq!((codes(&right), right.outcome), (vec![], Outcome::Reading));
    assert_eq!(right.chosen["scale"], "resistor_checked_by_meter");
}

/// A buffer left out, replaced by noughts or delivered twice: said each time, and the other periods read the driver.
#[test]
fn every_way_of_losing_a_buffer() {
    let part = practice_driver("six").linear();
    for (shape, samples) in [(Shape::Sweep, 1024), (Shape::Multisine, 128)] {
        for loss in [Loss::Dropped, Loss::Zeros, Loss::Repeated] {
            let mut bench = ideal_bench(&part, -80.0);
            bench.input.buffer_faults = vec![BufferFault { at_part: 0.53, samples, loss }];
            let reading = read(&bench, &stimulus(shape), 1);
            let label = format!("{shape:?} {loss:?} {samples}");
            assert_eq!(codes(&reading), [Code::Gap], "{label}: {:?}", reading.warnings);
            // The goal at 60 dB; five periods instead of six add 10 % to the spread.
            let f_s_hz = conewright::sim::truth::truth(&(&part).into()).f_s_hz;
            assert!((reading.values["f_s_hz"].value / f_s_hz - 1.0).abs() < 2e-4, "{label}");
        }
    }
}

/// Somebody speaks, or music plays, instead of our signal: both inputs hear it, and no ratio is read from it.
#[test]
fn speech_and_music_are_no_test_signal() {
    let bench = ideal_bench(&practice_driver("six"), -80.0);
    for (label, signal) in [("speech", speech()), ("music", music())] {
        // As loud as a person would set it: half of full scale at the peak, so that nothing else is wrong with the take.
        let peak = signal.iter().fold(0.0f64, |p, s| p.max(s.abs()));
        let signal: Vec<f64> = signal.iter().map(|s| 0.5 * s / peak).collect();
        let take = conewright::sim::bench::play(&bench, &signal, RATE_HZ, Position::Driver, 1).unwrap();
        let reading = analyse(&ImpedanceSetup::plain(10.0), &[RoleTake::new("driver", take)]).unwrap();
        expect_refused(&reading, Code::NoStimulus, label);
    }
}

/// Syllables of a tenth to a third of a second: pulses of a wandering pitch through two resonances, some of them
/// unvoiced, with pauses.
fn speech() -> Vec<f64> {
    let mut random = Random::new(5);
    let mut out = Vec::new();
    while out.len() < 12 * 48_000 {
        let length = (random.between(0.1, 0.33) * RATE_HZ) as usize;
        let (pitch_hz, voiced) = (random.between(90.0, 160.0), random.uniform() < 0.7);
        let mut resonances = [random.between(300.0, 800.0), random.between(900.0, 2400.0)].map(Resonance::at);
        let mut phase = 0.0;
        for i in 0..length {
            phase += pitch_hz * (1.0 + 0.2 * i as f64 / length as f64) / RATE_HZ;
            let pulse = if phase >= 1.0 { 1.0 } else { 0.0 };
            phase -= phase.floor();
            let drive = if voiced { pulse } else { 0.05 * random.normal() };
            let shape = (std::f64::consts::PI * i as f64 / length as f64).sin();
            out.push(0.2 * shape * resonances.iter_mut().map(|r| r.push(drive)).sum::<f64>());
        }
        out.extend(vec![0.0; (random.between(0.02, 0.4) * RATE_HZ) as usize]);
    }
    out
}

struct Resonance([f64; 2], [f64; 2]);

impl Resonance {
    /// 80 Hz wide.
    fn at(hz: f64) -> Self {
        let radius = (-std::f64::consts::PI * 80.0 / RATE_HZ).exp();
        Resonance([2.0 * radius * (std::f64::consts::TAU * hz / RATE_HZ).cos(), -radius * radius], [0.0; 2])
    }

    fn push(&mut self, drive: f64) -> f64 {
        let now = drive + self.0[0] * self.1[0] + self.0[1] * self.1[1];
        self.1 = [now, self.1[0]];
        0.3 * now
    }
}

/// Chords of plucked notes that die away, at an unsteady pace.
fn music() -> Vec<f64> {
    let mut random = Random::new(6);
    let mut out = vec![0.0; 13 * 48_000];
    let mut begin = 0;
    while begin < 12 * 48_000 {
        for _ in 0..3 {
            let hz = 55.0 * 2f64.powf(random.below(36) as f64 / 12.0);
            for i in 0..(0.9 * RATE_HZ) as usize {
                let t = i as f64 / RATE_HZ;
                let note: f64 =
                    (1..6).map(|k| (std::f64::consts::TAU * hz * f64::from(k) * t).sin() / f64::from(k)).sum();
                out[begin + i] += 0.08 * note * (-4.0 * t).exp();
            }
        }
        begin += (random.between(0.21, 0.6) * RATE_HZ) as usize;
    }
    out
}

/// Hum as loud as the signal is told of, and doubted: beside its own lines it uses up the range.
#[test]
fn hum_as_loud_as_the_signal_is_doubted() {
    let part = practice_driver("six").linear();
    let mut bench = ideal_bench(&part, -80.0);
    bench.input.hum = Some(Hum { mains_hz: 50.0, fundamental_dbfs: -25.0 });
    let reading = read(&bench, &stimulus(Shape::Multisine), 1);
    expect(&reading, Code::Hum, "loud hum");
    assert_ne!(reading.outcome, Outcome::Reading);
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
