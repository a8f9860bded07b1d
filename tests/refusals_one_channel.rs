//! Every bad take of the check with one input is refused or warned of, each for its own reason.

#![allow(missing_docs)]

mod impedance_bench;
mod one_channel_bench;

use conewright::math::fft;
use conewright::math::random::Random;
use conewright::signal::notice::Code;
use conewright::signal::reading::{Outcome, Reading};
use conewright::signal::role_take::RoleTake;
use conewright::signal::take::Take;
use conewright::sim::bench::PracticeBench;
use conewright::sim::faults::Fault;
use conewright::sim::practice::good_bench;
use impedance_bench::practice_driver;
use one_channel_bench::*;

fn good() -> PracticeBench {
    good_bench(&practice_driver("six").linear())
}

/// The reading after one take has been changed.
fn changed(takes: &[RoleTake], index: usize, change: impl Fn(&[f64]) -> Vec<f64>) -> Reading {
    let mut takes = takes.to_vec();
    let take = &takes[index].take;
    takes[index].take = Take::new(take.rate_hz(), vec![change(take.channel(1).unwrap())]).unwrap();
    read(&good(), &takes)
}

fn refused(reading: &Reading, code: Code, label: &str) {
    assert_eq!(reading.refusal.as_ref().map(|n| n.code), Some(code), "{label}: {:?}", reading.warnings);
    assert!(reading.values.is_empty(), "{label}: a refusal carries no figures");
}

/// One good road, and each thing that can go wrong with one of its takes.
#[test]
fn each_spoiled_take_has_its_reason() {
    let takes = road(&good(), &marked(-6.0), 1);
    let plain = read(&good(), &takes);
    assert_eq!((plain.outcome, plain.warnings.len()), (Outcome::Reading, 0), "{:?}", plain.warnings);
    let [driver, last, open] = [2, 3, 1];
    let louder = |by: f64| move |s: &[f64]| s.iter().map(|v| by * v).collect::<Vec<f64>>();
    // Gain: 0.5 dB is 5.9 %, beyond what the budget may carry; 0.25 dB is 2.9 %, a doubt.
    refused(&changed(&takes, last, louder(1.059)), Code::GainRiding, "gain moved");
    let doubtful = changed(&takes, last, louder(1.029));
    assert_eq!(doubtful.outcome, Outcome::Doubtful);
    assert!(doubtful.warnings.iter().any(|n| n.code == Code::GainRiding));
    // Samples lost, repeated, cut off at the end.
    let lost = |s: &[f64]| [&s[..200_000], &s[200_128..]].concat();
    refused(&changed(&takes, driver, lost), Code::Gap, "lost");
    refused(&changed(&takes, last, |s| [&s[..200_000], &s[199_936..]].concat()), Code::Gap, "repeated");
    refused(&changed(&takes, open, |s| s[..s.len() - 60_000].to_vec()), Code::Gap, "cut short");
    refused(&changed(&takes, driver, |s| s.iter().map(|_| 0.0).collect()), Code::Silent, "silent");
    // The driver still hangs there when the resistor should be measured again.
    let mut exchanged = takes.clone();
    exchanged[last].take = takes[driver].take.clone();
    refused(&read(&good(), &exchanged), Code::Contradiction, "driver left connected");
    // The resistor, or nothing, in the driver's place.
    exchanged = takes.clone();
    exchanged[driver].take = takes[open].take.clone();
    refused(&read(&good(), &exchanged), Code::OpenCircuit, "nothing connected");
    exchanged[driver].take = takes[0].take.clone();
    refused(&read(&good(), &exchanged), Code::ModelMisfit, "still the resistor");
    // Louder than an open circuit can be.
    let over = changed(&takes, driver, louder(9.0));
    refused(&over, Code::Contradiction, "more than open");
    // Told or doubted, each by its code.
    let told = |reading: &Reading| reading.refusal.iter().chain(&reading.warnings).map(|n| n.code).collect::<Vec<_>>();
    let hum = |s: &[f64]| {
        let wave = |i: usize| 0.05 * (std::f64::consts::TAU * 50.0 * i as f64 / RATE_HZ).sin();
        s.iter().enumerate().map(|(i, v)| v + wave(i)).collect::<Vec<f64>>()
    };
    assert!(told(&changed(&takes, driver, hum)).contains(&Code::Hum));
    let cut = |s: &[f64]| s.iter().map(|v| v.clamp(-0.02, 0.02)).collect::<Vec<f64>>();
    assert!(told(&changed(&takes, driver, cut)).contains(&Code::Clipped));
    let constant = |s: &[f64]| s.iter().map(|v| v + 0.1).collect::<Vec<f64>>();
    assert!(told(&changed(&takes, driver, constant)).contains(&Code::DirectCurrent));
    // Noise over everything.
    let mut random = Random::new(3);
    let noise: Vec<f64> = (0..900_000).map(|_| 0.05 * random.normal()).collect();
    let noisy = changed(&takes, driver, |s| s.iter().zip(&noise).map(|(a, b)| a + b).collect());
    assert!(noisy.refusal.iter().chain(&noisy.warnings).any(|n| n.code == Code::Noise), "{:?}", noisy.warnings);
}

/// A coupling capacitor of 100 µF in the output: the second load shows it, because its low end comes out differently.
#[test]
fn a_capacitor_in_the_output_is_seen() {
    let takes = road(&good(), &marked(-6.0), 2);
    // Behind 1/jωC the level of a load Z changes by (Z + S)/(Z + S + 1/jωC); nothing connected stays as it is.
    let through = |s: &[f64], behind_ohm: f64| {
        let n = s.len() & !1;
        let mut lines = fft::real_forward(&s[..n]);
        for (k, line) in lines.iter_mut().enumerate().skip(1) {
            let omega = std::f64::consts::TAU * k as f64 * RATE_HZ / n as f64;
            *line *= behind_ohm / (behind_ohm - fft::Complex64::i() / (omega * 100e-6));
        }
        fft::real_inverse(&lines, n)
    };
    let mut with = takes.clone();
    for index in [0, 3] {
        let samples = through(takes[index].take.channel(1).unwrap(), 56.0);
        with[index].take = Take::new(RATE_HZ, vec![samples]).unwrap();
    }
    refused(&read(&good(), &with), Code::OutputNotResistive, "capacitor");
}

/// Faults of the practice bench that one input can show.
#[test]
fn faults_of_the_practice_bench() {
    for (fault, code) in [
        (Fault::ShortCircuit, Code::ShortCircuit),
        (Fault::WrongResistor, Code::WrongResistor),
        (Fault::GainRiding, Code::GainRiding),
    ] {
        let bench = fault.on(good());
        let reading = read(&bench, &road(&bench, &marked(-6.0), 5));
        let told: Vec<Code> = reading.refusal.iter().chain(&reading.warnings).map(|n| n.code).collect();
        assert!(told.contains(&code), "{fault:?}: {told:?}");
    }
}
