//! Ratio of two channels of a signal that is not ours: a single sweep over the whole record, steady noise in segments.
//!
//! [`crate::signal::spectrum`] gives ratio and variance; here the multiples of the mains are left out and variances,
//! which a few lines know badly, are pooled: what scatters is the noise floor, var H times the source's power.

use super::ratio::{on_mains, pooled, Method, RatioCurve, RatioLine};
use crate::signal::spectrum::{welch, whole_record_ratio};
use std::ops::Range;

/// Bands an octave for a single sweep.
const BANDS_AN_OCTAVE: f64 = 60.0;
/// Silence kept before and after a sweep, in s: the ring of a driver dies in it.
const BEFORE_S: f64 = 0.1;
const AFTER_S: f64 = 1.5;
/// Segments of one length that a noise record shall hold at least.
const SEGMENTS: f64 = 8.0;
/// Longest and shortest segment in s: an eighth of a hertz between lines resolves any driver, half a hertz just so.
const LONGEST_S: f64 = 8.0;
const SHORTEST_S: f64 = 2.0;
/// Effective width of a Hann line in lines: neighbours share that much of their error, and averaging over lines later
/// must not count it twice.
const HANN_WIDTH: f64 = 1.5;
/// Lines of noise count as excited within 50 dB of the strongest.
const EXCITED: f64 = 1e-5;

/// Ratio driver over source of a single sweep lying in `active`. None where the record is too short to tell lines apart.
pub fn sweep_ratio(source: &[f64], driver: &[f64], rate_hz: f64, active: Range<usize>) -> Option<RatioCurve> {
    let begin = active.start.saturating_sub((BEFORE_S * rate_hz) as usize);
    let end = (active.end + (AFTER_S * rate_hz) as usize).min(source.len());
    let centred = |signal: &[f64]| {
        let mean = signal[begin..end].iter().sum::<f64>() / (end - begin) as f64;
        signal[begin..end].iter().map(|s| s - mean).collect::<Vec<f64>>()
    };
    let spacing_hz = rate_hz / (end - begin) as f64;
    if spacing_hz > 1.0 {
        return None;
    }
    let points = whole_record_ratio(&centred(source), &centred(driver), rate_hz, BANDS_AN_OCTAVE);
    // A band is at least five lines wide; hum within it bends the line.
    let lines: Vec<RatioLine> = points
        .iter()
        .filter(|p| p.frequency_hz > 3.0 && !on_mains(p.frequency_hz, 3.0 * spacing_hz))
        .map(|p| RatioLine { frequency_hz: p.frequency_hz, ratio: p.value, variance: p.variance })
        .collect();
    finish(lines, Method::WholeRecord, 1)
}

/// Ratio driver over source of steady noise within `active`. None where fewer than eight segments of 2 s fit.
pub fn noise_ratio(source: &[f64], driver: &[f64], rate_hz: f64, active: Range<usize>) -> Option<RatioCurve> {
    let seconds = active.len() as f64 / rate_hz;
    let segment_s = (2.0 * seconds / (SEGMENTS + 1.0)).min(LONGEST_S);
    if segment_s < SHORTEST_S {
        return None;
    }
    let segment = ((segment_s * rate_hz) as usize) & !1;
    let spectra = welch(&source[active.clone()], &driver[active], rate_hz, segment)?;
    let spacing_hz = rate_hz / segment as f64;
    let strongest = spectra.first.iter().skip(2).copied().fold(0.0, f64::max);
    let lines: Vec<RatioLine> = (1..spectra.first.len())
        .filter(|&k| spectra.first[k] > EXCITED * strongest && spectra.frequency_hz[k] > 3.0)
        .filter(|&k| !on_mains(spectra.frequency_hz[k], 1.6 * spacing_hz))
        .filter_map(|k| spectra.ratio(k))
        .filter(|p| p.variance.is_finite())
        .map(|p| RatioLine { frequency_hz: p.frequency_hz, ratio: p.value, variance: HANN_WIDTH * p.variance })
        .collect();
    finish(lines, Method::Segments, spectra.independent_averages as usize)
}

/// Pools the variances; they are smooth over frequency because source and floor are.
fn finish(mut lines: Vec<RatioLine>, method: Method, averages: usize) -> Option<RatioCurve> {
    if lines.is_empty() {
        return None;
    }
    let frequency_hz: Vec<f64> = lines.iter().map(|l| l.frequency_hz).collect();
    let variances: Vec<f64> = lines.iter().map(|l| l.variance).collect();
    for (line, variance) in lines.iter_mut().zip(pooled(&frequency_hz, &variances, 0.05, 4)) {
        line.variance = variance;
    }
    let relative: Vec<f64> = lines.iter().map(|l| l.variance / l.ratio.norm_sqr()).collect();
    let snr_db = -10.0 * crate::math::robust::median(&relative)?.max(1e-30).log10();
    Some(RatioCurve { lines, snr_db, ..RatioCurve::empty(method, averages) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::fft::Complex64;
    use crate::math::random::Random;
    use std::f64::consts::TAU;

    const RATE_HZ: f64 = 8000.0;

    /// An exponential sweep from 20 Hz to 3 kHz in 5 s with silence around; the second channel is half of it plus a
    /// ring at 71.7 Hz excited by it (a two-pole resonator), so that there is something sharp to resolve.
    fn sweep(noise: f64) -> (Vec<f64>, Vec<f64>) {
        let (seconds, rate) = (5.0, (150f64).ln());
        let mut random = Random::new(3);
        let wave = |t: f64| match (0.0..seconds).contains(&t) {
            true => 0.5 * (TAU * 20.0 * seconds / rate * ((t / seconds * rate).exp() - 1.0)).sin(),
            false => 0.0,
        };
        let source: Vec<f64> = (0..(8.0 * RATE_HZ) as usize).map(|i| wave(i as f64 / RATE_HZ - 0.5)).collect();
        let (a1, a2) = poles();
        let (mut s1, mut s2) = (0.0, 0.0);
        let ring = |x: &f64| {
            let s0 = 0.004 * x + a1 * s1 - a2 * s2;
            (s2, s1) = (s1, s0);
            0.5 * x + s0
        };
        let driver: Vec<f64> = source.iter().map(ring).collect();
        let mut noisy = |v: Vec<f64>| v.into_iter().map(|s| s + noise * random.normal()).collect::<Vec<f64>>();
        (noisy(source), noisy(driver))
    }

    fn poles() -> (f64, f64) {
        let radius = (-TAU * 3.0 / RATE_HZ).exp();
        (2.0 * radius * (TAU * 71.7 / RATE_HZ).cos(), radius * radius)
    }

    fn truth(hz: f64) -> Complex64 {
        let (a1, a2) = poles();
        let z = Complex64::cis(-TAU * hz / RATE_HZ);
        0.5 + 0.004 / (1.0 - a1 * z + a2 * z * z)
    }

    /// A band w = 0.76 to 1.2 Hz wide (five lines of 6.6 s, or a sixtieth octave) on a resonance of half-width h = 3 Hz:
    /// a straight line misses w²/(12 h²), up to 1.3 % of the height; with the bend taken off, fourth order remains,
    /// (w/h)⁴ = 2.6 % times a tenth or so (w⁴/80 and neighbours' third differences).
    #[test]
    fn a_sharp_ring_is_resolved() {
        let (x, y) = sweep(0.0);
        let curve = sweep_ratio(&x, &y, RATE_HZ, 4000..44_000).unwrap();
        let height = truth(71.7).norm();
        for l in curve.lines.iter().filter(|l| (25.0..2500.0).contains(&l.frequency_hz)) {
            let error = (l.ratio - truth(l.frequency_hz)).norm();
            assert!(error < 0.003 * height, "{} Hz: {error}", l.frequency_hz);
        }
    }

    /// Mean of |error|²/variance over n bands is 1 within five of its own deviations, and the pooled floor (nine bands
    /// of three to spare) adds 1/27.
    #[test]
    fn variances_are_those_of_the_errors() {
        let (x, y) = sweep(0.02);
        let curve = sweep_ratio(&x, &y, RATE_HZ, 4000..44_000).unwrap();
        let inside: Vec<&RatioLine> =
            curve.lines.iter().filter(|l| (150.0..2500.0).contains(&l.frequency_hz)).collect();
        let n = inside.len() as f64;
        let relative = |l: &&RatioLine| (l.ratio - truth(l.frequency_hz)).norm_sqr() / l.variance;
        let mean = inside.iter().map(relative).sum::<f64>() / n;
        assert!((mean - 1.0).abs() < 5.0 / n.sqrt() + 1.0 / 27.0, "{mean} of {n}");
    }

    /// Lines two apart hardly share errors (Hann: 1/36 of the power), so over every second line the mean is 1/1.5, the
    /// factor for neighbours, within five deviations, the pooling's 2 % and the coherence's bias (1/n of 17 averages).
    #[test]
    fn noise_gives_a_ratio_with_its_scatter() {
        let mut random = Random::new(5);
        let source: Vec<f64> = (0..40 * RATE_HZ as usize).map(|_| 0.1 * random.normal()).collect();
        let driver: Vec<f64> = source.iter().map(|s| 0.5 * s + 0.01 * random.normal()).collect();
        let curve = noise_ratio(&source, &driver, RATE_HZ, 0..source.len()).unwrap();
        let second: Vec<&RatioLine> = curve.lines.iter().step_by(2).collect();
        let n = second.len() as f64;
        let mean = second.iter().map(|l| (l.ratio - 0.5).norm_sqr() / l.variance).sum::<f64>() / n;
        let averages = curve.averages as f64;
        assert!((HANN_WIDTH * mean - 1.0).abs() < 5.0 / n.sqrt() + 0.02 + 1.5 / averages, "{mean} of {n}");
        assert!(noise_ratio(&source, &driver, RATE_HZ, 0..30_000).is_none());
    }
}
