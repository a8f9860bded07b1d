//! Ratio of two channels of stationary noise: averaged segments (Welch 1967, from memory).
//!
//! H = S_xy/S_xx from Hann-windowed segments that overlap by half; scatter from the coherence: var H = (1 − γ²) S_yy /
//! (S_xx n), n the number of independent segments. A Hann window spreads each line over 1.5, so neighbouring lines share
//! their errors; the variance is multiplied by that, so that later averaging over lines does not count them twice.

use super::ratio::{on_mains, pooled, Method, RatioCurve, RatioLine};
use crate::math::fft::{real_forward, Complex64};
use std::ops::Range;

/// Longest segment in s: half a hertz between lines resolves a resonance at 20 Hz.
const LONGEST_S: f64 = 8.0;
/// Segments of one length that the record shall hold at least.
const AT_LEAST: f64 = 8.0;
/// Shortest segment in s that resolves anything at 20 Hz.
const SHORTEST_S: f64 = 2.0;
/// Effective width of a Hann line in lines.
const HANN_WIDTH: f64 = 1.5;
/// Independent segments for each half-overlapping one with a Hann window: 1/(1 + 2/36).
const INDEPENDENT: f64 = 0.947;

/// Octave-band powers of `parts` equal parts of a signal agree within 4 dB: the signal is stationary.
/// A sweep, speech or music differs by far more.
pub fn is_stationary(signal: &[f64], rate_hz: f64) -> bool {
    let parts = 6;
    let length = (signal.len() / parts).min((2.0 * rate_hz) as usize) & !1;
    if (length as f64) < 0.3 * rate_hz {
        return false;
    }
    let stride = (signal.len() - length) / (parts - 1);
    let powers: Vec<Vec<f64>> =
        (0..parts).map(|p| octave_powers(&signal[p * stride..p * stride + length], rate_hz)).collect();
    let bands = powers[0].len();
    let mean = |b: usize| powers.iter().map(|p| p[b]).sum::<f64>() / parts as f64;
    let loudest = (0..bands).map(mean).fold(0.0, f64::max);
    (0..bands).filter(|&b| mean(b) > 1e-3 * loudest).all(|b| {
        let low = powers.iter().map(|p| p[b]).fold(f64::INFINITY, f64::min);
        let high = powers.iter().map(|p| p[b]).fold(0.0, f64::max);
        high < 2.5 * low
    })
}

/// Power in octave bands from 125 Hz up (lower ones hold too few lines to be steady by chance).
fn octave_powers(part: &[f64], rate_hz: f64) -> Vec<f64> {
    let spectrum = real_forward(part);
    let spacing_hz = rate_hz / part.len() as f64;
    let line = |hz: f64| ((hz / spacing_hz) as usize).min(spectrum.len());
    let mut bands = Vec::new();
    let mut low = 125.0;
    while 2.0 * low < 0.45 * rate_hz {
        bands.push(spectrum[line(low)..line(2.0 * low)].iter().map(Complex64::norm_sqr).sum());
        low *= 2.0;
    }
    bands
}

/// Ratio driver over source within `active`. None where fewer than eight segments of 2 s fit.
pub fn segment_ratio(source: &[f64], driver: &[f64], rate_hz: f64, active: Range<usize>) -> Option<RatioCurve> {
    let seconds = active.len() as f64 / rate_hz;
    let segment_s = (2.0 * seconds / (AT_LEAST + 1.0)).min(LONGEST_S);
    if segment_s < SHORTEST_S {
        return None;
    }
    let length = ((segment_s * rate_hz) as usize) & !1;
    let spectra = Averages::of(&source[active.clone()], &driver[active], length);
    let spacing_hz = rate_hz / length as f64;
    let independent = INDEPENDENT * spectra.segments as f64;
    let lines: Vec<usize> = spectra.excited(spacing_hz);
    let frequency_hz: Vec<f64> = lines.iter().map(|&k| k as f64 * spacing_hz).collect();
    let freedom = spectra.segments as f64 / (spectra.segments as f64 - 1.0);
    let unexplained: Vec<f64> = lines.iter().map(|&k| spectra.unexplained(k) * freedom).collect();
    let floor = pooled(&frequency_hz, &unexplained, 0.03, 4);
    let out: Vec<RatioLine> = lines
        .iter()
        .zip(&floor)
        .map(|(&k, floor)| RatioLine {
            frequency_hz: k as f64 * spacing_hz,
            ratio: spectra.xy[k] / spectra.xx[k],
            variance: HANN_WIDTH * floor / (spectra.xx[k] * independent),
        })
        .collect();
    let signal: f64 = lines.iter().map(|&k| spectra.yy[k]).sum();
    let snr_db = 10.0 * (signal / floor.iter().sum::<f64>().max(f64::MIN_POSITIVE)).log10();
    Some(RatioCurve { lines: out, snr_db, ..RatioCurve::empty(Method::Segments, spectra.segments) })
}

/// Averaged spectra.
struct Averages {
    xx: Vec<f64>,
    yy: Vec<f64>,
    /// X* Y.
    xy: Vec<Complex64>,
    segments: usize,
}

impl Averages {
    fn of(source: &[f64], driver: &[f64], length: usize) -> Averages {
        let window: Vec<f64> =
            (0..length).map(|i| 0.5 - 0.5 * (std::f64::consts::TAU * i as f64 / length as f64).cos()).collect();
        let count = length / 2 + 1;
        let mut out =
            Averages { xx: vec![0.0; count], yy: vec![0.0; count], xy: vec![Complex64::default(); count], segments: 0 };
        let transform = |signal: &[f64], at: usize| {
            let part = &signal[at..at + length];
            let mean = part.iter().sum::<f64>() / length as f64;
            real_forward(&part.iter().zip(&window).map(|(s, w)| (s - mean) * w).collect::<Vec<f64>>())
        };
        for at in (0..=source.len() - length).step_by(length / 2) {
            let (x, y) = (transform(source, at), transform(driver, at));
            for k in 0..count {
                out.xx[k] += x[k].norm_sqr();
                out.yy[k] += y[k].norm_sqr();
                out.xy[k] += x[k].conj() * y[k];
            }
            out.segments += 1;
        }
        out
    }

    /// Part of the driver's power that the source does not explain.
    fn unexplained(&self, k: usize) -> f64 {
        (self.yy[k] - self.xy[k].norm_sqr() / self.xx[k]).max(0.0)
    }

    /// Lines from 3 Hz up within 50 dB of the strongest, mains and their neighbours left out.
    fn excited(&self, spacing_hz: f64) -> Vec<usize> {
        let strongest = self.xx.iter().skip(1).copied().fold(0.0, f64::max);
        (1..self.xx.len())
            .filter(|&k| k as f64 * spacing_hz > 3.0 && self.xx[k] > 1e-5 * strongest)
            .filter(|&k| !on_mains(k as f64 * spacing_hz, 1.5 * spacing_hz))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    const RATE_HZ: f64 = 8000.0;

    /// White noise; the driver channel is half of it with noise of its own.
    fn record(seconds: usize, noise: f64) -> (Vec<f64>, Vec<f64>) {
        let mut random = Random::new(5);
        let source: Vec<f64> = (0..seconds * RATE_HZ as usize).map(|_| 0.1 * random.normal()).collect();
        let driver = source.iter().map(|s| 0.5 * s + noise * random.normal()).collect();
        (source, driver)
    }

    #[test]
    fn noise_is_stationary_and_a_sweep_is_not() {
        let (noise, _) = record(10, 0.0);
        assert!(is_stationary(&noise, RATE_HZ));
        let sweep: Vec<f64> = (0..80_000).map(|i| (0.05 * (1.00005f64.powi(i) - 1.0) / 5e-5).sin()).collect();
        assert!(!is_stationary(&sweep, RATE_HZ));
        assert!(!is_stationary(&noise[..1000], RATE_HZ));
    }

    /// Lines two apart hardly share errors (Hann: 1/36 of the power), so the mean of |error|²/variance over every
    /// second line is 1/1.5, the factor for neighbours, within five deviations and the pooling's 2 %.
    #[test]
    fn variance_is_that_of_the_error() {
        let (x, y) = record(40, 0.01);
        let curve = segment_ratio(&x, &y, RATE_HZ, 0..x.len()).unwrap();
        let every_second: Vec<&RatioLine> = curve.lines.iter().step_by(2).collect();
        let n = every_second.len() as f64;
        let mean = every_second.iter().map(|l| (l.ratio - 0.5).norm_sqr() / l.variance).sum::<f64>() / n;
        assert!((HANN_WIDTH * mean - 1.0).abs() < 5.0 / n.sqrt() + 0.02, "{mean} of {n}");
        assert!(segment_ratio(&x, &y, RATE_HZ, 0..30_000).is_none());
    }
}
