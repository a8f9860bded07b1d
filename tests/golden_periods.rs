//! Ratio and scatter of two stored noisy takes against NumPy.
//!
//! Source of the values: numpy.fft over the same whole periods (`tests/golden/make_takes.py`).

mod golden_files;

use conewright::signal::periods::split;
use conewright::signal::wav;
use golden_files::{bytes, golden, number, numbers};

/// Both transforms are good to about 1e-15 times the largest line; the smallest line used is 40 dB below the largest, and
/// the variance is a difference of nearly equal numbers some 60 dB down: 1e-15 · 1e2 · 1e3, with a margin of 100.
const RATIO_RELATIVE: f64 = 1e-9;
const VARIANCE_RELATIVE: f64 = 1e-7;

#[test]
fn ratio_and_scatter_agree_with_numpy() {
    for take in golden("takes.json")["takes"].as_array().expect("a list") {
        let name = take["take"].as_str().expect("a name");
        let file = wav::read(&bytes(name)).expect("a WAV file");
        let (source, driver) = (file.take.channel(1).expect("source"), file.take.channel(2).expect("driver"));
        let periods = split(&[source, driver], file.take.rate_hz(), 0).expect("periods");
        assert_eq!(periods.samples as f64, number(take, "period_samples"), "{name}");
        // Where the periods begin is ours to choose; the generator was told.
        assert_eq!(periods.first_sample as f64, number(take, "first_sample"), "{name}");
        assert_eq!(periods.kept.len() as f64, number(take, "kept"), "{name}");
        let (re, im) = (numbers(take, "ratio_real"), numbers(take, "ratio_imaginary"));
        let variance = numbers(take, "ratio_variance");
        for (i, line) in numbers(take, "lines").iter().enumerate() {
            let ours = periods.ratio(0, 1, *line as usize).expect("a ratio");
            let apart = (ours.value.re - re[i]).hypot(ours.value.im - im[i]);
            assert!(apart <= RATIO_RELATIVE * re[i].hypot(im[i]), "{name}, line {line}: {apart:e}");
            let off = (ours.variance / variance[i] - 1.0).abs();
            assert!(off <= VARIANCE_RELATIVE, "{name}, line {line}: variance {off:e} off");
        }
    }
}
