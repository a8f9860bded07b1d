//! Periods of made-up recordings: exact without noise, honest with it, broken ones set aside.

use super::*;
use crate::math::random::Random;
use crate::signal::stimulus::{Shape, Stimulus};
use crate::signal::test_signals::{excited_lines, render};
use std::f64::consts::PI;

const RATE_HZ: f64 = 48_000.0;

fn stimulus(shape: Shape) -> Stimulus {
    let (low_hz, high_hz) = (5.0, 20_000.0);
    Stimulus {
        shape,
        rate_hz: RATE_HZ,
        period_s: 1.0,
        periods: 6,
        low_hz,
        high_hz,
        peak_dbfs: -6.0,
        seed: 3,
        travel_shape: None,
    }
}

/// Source and a second channel that is half of it, one sample later, each with its own noise; silence around.
fn recording(shape: Shape, noise: f64, seed: u64) -> Vec<Vec<f64>> {
    let mut random = Random::new(seed);
    let signal = render(&stimulus(shape)).expect("a signal");
    let mut source = vec![0.0; 20_123];
    source.extend(signal);
    source.resize(source.len() + 10_000, 0.0);
    let mut second = vec![0.0];
    second.extend(source.iter().map(|s| 0.5 * s));
    second.pop();
    for channel in [&mut source, &mut second] {
        channel.iter_mut().for_each(|s| *s += noise * random.normal());
    }
    vec![source, second]
}

fn slices(channels: &[Vec<f64>]) -> Vec<&[f64]> {
    channels.iter().map(Vec::as_slice).collect()
}

/// Half, one sample later.
fn truth(line: usize) -> Complex64 {
    0.5 * Complex64::cis(-2.0 * PI * line as f64 / 48_000.0)
}

#[test]
fn all_periods_but_the_settling_one_are_found_and_the_ratio_is_exact() {
    for shape in [Shape::Sweep, Shape::Multisine] {
        let periods = split(&slices(&recording(shape, 0.0, 1)), RATE_HZ, 0).expect("periods");
        assert_eq!((periods.samples, periods.found, periods.kept.len()), (48_000, 5, 5));
        assert!(periods.dropped.is_empty() && periods.slips.is_empty());
        for line in excited_lines(&stimulus(shape)) {
            let ratio = periods.ratio(0, 1, line).expect("excited");
            // Rounding of a transform of 48000 values, against a line 40 dB below the strongest.
            assert!((ratio.value - truth(line)).norm() < 1e-9, "{shape:?} line {line}");
        }
    }
}

#[test]
fn the_scatter_predicts_the_error() {
    let recording = recording(Shape::Multisine, 0.003, 2);
    let periods = split(&slices(&recording), RATE_HZ, 0).expect("periods");
    let lines = excited_lines(&stimulus(Shape::Multisine));
    let (mut error, mut predicted) = (0.0, 0.0);
    for &line in &lines {
        let ratio = periods.ratio(0, 1, line).expect("excited");
        let weight = periods.mean(0, line).norm_sqr();
        error += (ratio.value - truth(line)).norm_sqr() * weight;
        predicted += ratio.variance * weight;
    }
    // Sums of 2·M and 8·M squares for M lines (5 periods): relative deviation √(1/M + 1/(4M)), four of it allowed.
    let allowed = 4.0 * (1.25 / lines.len() as f64).sqrt();
    assert!((error / predicted - 1.0).abs() < allowed, "{} of {allowed}", error / predicted - 1.0);
}

#[test]
fn noise_common_to_both_channels_cancels_in_the_ratio() {
    let mut channels = recording(Shape::Multisine, 0.0, 1);
    let mut random = Random::new(9);
    for n in 1..channels[0].len() {
        let common = 0.01 * random.normal();
        channels[0][n - 1] += common;
        channels[1][n] += 0.5 * common;
    }
    let periods = split(&slices(&channels), RATE_HZ, 0).expect("periods");
    let ratio = periods.ratio(0, 1, 101).expect("excited");
    let alone = periods.covariance(1, 1, 101).re / 5.0 / periods.mean(0, 101).norm_sqr();
    // The noise passes the same system; only the ends of the periods differ, a millionth of it in energy.
    assert!(ratio.variance < 1e-3 * alone, "{} of {alone}", ratio.variance);
}

#[test]
fn lost_and_repeated_samples_spoil_their_period_only() {
    for (noise, lost) in [(0.0, 128_isize), (0.002, 1024), (0.002, 64), (0.002, -480)] {
        let mut channels = recording(Shape::Multisine, noise, 4);
        // Inside the third period after the settling one: 20123 + 48000·3 + 30000.
        let at = 194_123;
        for c in &mut channels {
            if lost > 0 {
                c.drain(at..at + lost as usize);
            } else {
                let again = c[at - lost.unsigned_abs()..at].to_vec();
                c.splice(at..at, again);
            }
        }
        let periods = split(&slices(&channels), RATE_HZ, 0).expect("periods");
        assert_eq!(periods.dropped.iter().map(|d| d.index).collect::<Vec<_>>(), vec![2], "{lost}");
        assert_eq!(periods.slips.len(), 1, "{lost}");
        assert_eq!(periods.slips[0].before, 3);
        assert!((periods.slips[0].samples - lost as f64).abs() < 0.1, "{:?}", periods.slips);
        for line in [11, 101, 1001, 10_001] {
            let ratio = periods.ratio(0, 1, line).expect("excited");
            let bound = 1e-9 + 5.0 * ratio.variance.sqrt();
            assert!((ratio.value - truth(line)).norm() < bound, "{lost}: line {line}");
        }
    }
}

#[test]
fn a_bump_spoils_its_period_only() {
    let mut channels = recording(Shape::Sweep, 0.001, 4);
    for n in 0..2000 {
        channels[1][100_000 + n] += 0.3 * (n as f64 / 40.0).sin();
    }
    let periods = split(&slices(&channels), RATE_HZ, 0).expect("periods");
    assert_eq!(periods.dropped.iter().map(|d| d.index).collect::<Vec<_>>(), vec![0]);
    assert!(periods.slips.is_empty());
}

#[test]
fn steady_noise_spoils_nothing() {
    for seed in 0..20 {
        let periods = split(&slices(&recording(Shape::Sweep, 0.02, seed)), RATE_HZ, 0).expect("periods");
        assert!(periods.dropped.is_empty(), "seed {seed}: {:?}", periods.dropped);
    }
}

#[test]
fn a_long_recording_is_read_in_part() {
    let period = crate::signal::test_signals::one_period(&stimulus(Shape::Multisine)).expect("a period");
    let long: Vec<f64> = period.iter().copied().cycle().take(400 * 48_000).collect();
    let periods = split_known(&[&long], RATE_HZ, 0, 48_000).expect("periods");
    assert_eq!(periods.found, 8_000_000 / 24_001);
    assert_eq!(periods.kept.len(), periods.found);
}

#[test]
fn too_little_is_said_to_be_so() {
    let mut short = recording(Shape::Sweep, 0.0, 1);
    short.iter_mut().for_each(|c| c.truncate(20_123 + 2 * 48_000 + 10_000));
    let refused = split_known(&slices(&short), RATE_HZ, 0, 48_000);
    assert!(matches!(refused, Err(PeriodsError::TooFew { found: 1, .. })), "{refused:?}");
    assert_eq!(split(&[&[0.0; 1000]], RATE_HZ, 0).expect_err("silence"), PeriodsError::NoPeriod);
    assert_eq!(split(&[], RATE_HZ, 0).expect_err("nothing"), PeriodsError::NoPeriod);
}
