//! Ratio of two channels of a signal that does not repeat, a sweep of unknown origin: the whole record at once.
//!
//! One transform of the whole record, from before the signal to after the ring has died, never windowed segments: those
//! are wrong by per cents near a resonance. In each bin the ratio is a straight line over frequency, Y = (a + b Δf) X,
//! fitted by least squares and freed of the bend that its neighbours show; what is left over gives the scatter, pooled over neighbouring bins. Valid where the record
//! holds the whole response; what is cut off shows as scatter.

use super::ratio::{on_mains, pooled, Method, RatioCurve, RatioLine};
use crate::math::fft::{real_forward, Complex64};
use std::ops::Range;

/// Lines in a bin at least: two parameters and three left over.
const LINES_AT_LEAST: usize = 5;
/// Bins are this share of the frequency where that holds enough lines.
const BIN: f64 = 1.0 / 80.0;
/// A bin counts as excited when its power a line is within 40 dB of the strongest bin's.
const EXCITED: f64 = 1e-4;
/// Silence kept after the signal, in s: the ring of a driver dies in it.
const TAIL_S: f64 = 1.5;
/// Lines this close to a multiple of the mains carry hum (in units of the spacing).
const MAINS_LINES: f64 = 1.5;

/// Ratio driver over source of the part of the record in which `active` lies. None where the record is too short for
/// five lines below 20 Hz or nothing is excited.
pub fn whole_record_ratio(source: &[f64], driver: &[f64], rate_hz: f64, active: Range<usize>) -> Option<RatioCurve> {
    let begin = active.start.saturating_sub((0.1 * rate_hz) as usize);
    let end = (active.end + (TAIL_S * rate_hz) as usize).min(source.len());
    let length = smooth_length(end - begin);
    let transform = |signal: &[f64]| {
        let mean = signal[begin..end].iter().sum::<f64>() / (end - begin) as f64;
        let mut part: Vec<f64> = signal[begin..end].iter().map(|s| s - mean).collect();
        part.resize(length, 0.0);
        real_forward(&part)
    };
    let (x, y) = (transform(source), transform(driver));
    let spacing_hz = rate_hz / length as f64;
    if LINES_AT_LEAST as f64 * spacing_hz > 4.0 {
        return None;
    }
    let bins: Vec<Bin> =
        bins(x.len(), spacing_hz).into_iter().filter_map(|b| Bin::fit(&x, &y, b, spacing_hz)).collect();
    let strongest = bins.iter().map(|b| b.source_power).fold(0.0, f64::max);
    let mut bins: Vec<Bin> = bins.into_iter().filter(|b| b.source_power > EXCITED * strongest).collect();
    straighten(&mut bins);
    if bins.is_empty() {
        return None;
    }
    let frequency_hz: Vec<f64> = bins.iter().map(|b| b.frequency_hz).collect();
    let left_over: Vec<f64> = bins.iter().map(|b| b.left_over).collect();
    let floor = pooled(&frequency_hz, &left_over, 0.05, 4);
    let lines: Vec<RatioLine> = bins
        .iter()
        .zip(&floor)
        .map(|(b, f)| RatioLine { frequency_hz: b.frequency_hz, ratio: b.ratio, variance: f * b.leverage })
        .collect();
    let signal: f64 = bins.iter().map(|b| b.source_power * b.ratio.norm_sqr()).sum();
    let noise: f64 = floor.iter().sum();
    let snr_db = 10.0 * (signal / noise.max(f64::MIN_POSITIVE)).log10();
    Some(RatioCurve { lines, snr_db, ..RatioCurve::empty(Method::WholeRecord, 1) })
}

/// The next length that is a product of small primes, at most a few per cent longer.
fn smooth_length(least: usize) -> usize {
    let smooth = |mut n: usize| {
        for p in [2, 3, 5] {
            while n % p == 0 {
                n /= p;
            }
        }
        n == 1
    };
    (least.max(2)..).step_by(1).find(|&n| n % 2 == 0 && smooth(n)).unwrap_or(least)
}

/// Ranges of lines, from 2 Hz up.
fn bins(count: usize, spacing_hz: f64) -> Vec<Range<usize>> {
    let mut out = Vec::new();
    let mut begin = (2.0 / spacing_hz).ceil().max(1.0) as usize;
    while begin < count {
        let width = ((begin as f64 * BIN) as usize).max(LINES_AT_LEAST);
        out.push(begin..(begin + width).min(count));
        begin += width;
    }
    out
}

/// One bin's straight line.
struct Bin {
    frequency_hz: f64,
    ratio: Complex64,
    /// Mean |e|² of a line.
    left_over: f64,
    /// Variance of the ratio for one unit of `left_over`.
    leverage: f64,
    /// Mean |X|² of a line.
    source_power: f64,
    /// Slope of the ratio a hertz.
    slope: Complex64,
    /// Mean square distance of the lines from their centre in Hz², weighted by power.
    mean_square_hz2: f64,
}

/// Takes off what a straight line misses of a bend: ½ H″ times the mean square width, H″ from the slopes of the two
/// neighbouring bins (an error of a tenth of the scatter comes in by that, the bend itself goes out).
fn straighten(bins: &mut [Bin]) {
    let bends: Vec<Complex64> = (0..bins.len())
        .map(|i| {
            let (Some(a), Some(b)) = (i.checked_sub(1).and_then(|k| bins.get(k)), bins.get(i + 1)) else {
                return Complex64::default();
            };
            let apart_hz = b.frequency_hz - a.frequency_hz;
            let near = apart_hz * apart_hz < 100.0 * bins[i].mean_square_hz2;
            if near {
                (b.slope - a.slope) / apart_hz
            } else {
                Complex64::default()
            }
        })
        .collect();
    for (bin, bend) in bins.iter_mut().zip(bends) {
        bin.ratio -= 0.5 * bend * bin.mean_square_hz2;
    }
}

impl Bin {
    fn fit(x: &[Complex64], y: &[Complex64], lines: Range<usize>, spacing_hz: f64) -> Option<Bin> {
        let used: Vec<usize> = lines.filter(|&k| !on_mains(k as f64 * spacing_hz, MAINS_LINES * spacing_hz)).collect();
        if used.len() < 4 {
            return None;
        }
        let total: f64 = used.iter().map(|&k| x[k].norm_sqr()).sum();
        if total <= 0.0 {
            return None;
        }
        // Distances from the centre of power, so that level and slope are not entangled.
        let centre = used.iter().map(|&k| k as f64 * x[k].norm_sqr()).sum::<f64>() / total;
        let away = |k: usize| k as f64 - centre;
        let spread: f64 = used.iter().map(|&k| away(k).powi(2) * x[k].norm_sqr()).sum();
        let ratio = used.iter().map(|&k| x[k].conj() * y[k]).sum::<Complex64>() / total;
        let slope =
            used.iter().map(|&k| x[k].conj() * y[k] * away(k)).sum::<Complex64>() / spread.max(f64::MIN_POSITIVE);
        let error = |&k: &usize| (y[k] - (ratio + slope * away(k)) * x[k]).norm_sqr();
        Some(Bin {
            frequency_hz: centre * spacing_hz,
            ratio,
            left_over: used.iter().map(error).sum::<f64>() / (used.len() - 2) as f64,
            leverage: 1.0 / total,
            source_power: total / used.len() as f64,
            slope: slope / spacing_hz,
            mean_square_hz2: spread / total * spacing_hz * spacing_hz,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use std::f64::consts::TAU;

    const RATE_HZ: f64 = 8000.0;

    /// An exponential sweep from 20 Hz to 3 kHz in 5 s with silence around; the second channel is half of it plus a
    /// ring at 70.7 Hz excited by it (a two-pole resonator), so that there is something sharp to resolve.
    fn record(noise: f64) -> (Vec<f64>, Vec<f64>) {
        let (seconds, rate) = (5.0, (150f64).ln());
        let mut random = Random::new(3);
        let sweep = |t: f64| {
            let inside = (0.0..seconds).contains(&t);
            if inside {
                0.5 * (TAU * 20.0 * seconds / rate * ((t / seconds * rate).exp() - 1.0)).sin()
            } else {
                0.0
            }
        };
        let source: Vec<f64> = (0..(8.0 * RATE_HZ) as usize).map(|i| sweep(i as f64 / RATE_HZ - 0.5)).collect();
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
        (2.0 * radius * (TAU * 70.7 / RATE_HZ).cos(), radius * radius)
    }

    fn truth(hz: f64) -> Complex64 {
        let (a1, a2) = poles();
        let z = Complex64::cis(-TAU * hz / RATE_HZ);
        0.5 + 0.004 / (1.0 - a1 * z + a2 * z * z)
    }

    /// A bin of width w = 0.76 Hz (five lines of 6.6 s) on a resonance of half-width h = 3 Hz: a straight line misses
    /// w²/(12 h²) = 0.53 % of the height; with the bend taken off, terms of fourth order remain, (w/h)⁴ = 0.4 % times
    /// less than a half (neighbours two bins apart).
    #[test]
    fn a_sharp_ring_is_resolved() {
        let (x, y) = record(0.0);
        let curve = whole_record_ratio(&x, &y, RATE_HZ, 4000..44_000).unwrap();
        let height = truth(70.7).norm();
        for l in curve.lines.iter().filter(|l| (25.0..2500.0).contains(&l.frequency_hz)) {
            let error = (l.ratio - truth(l.frequency_hz)).norm();
            assert!(error < 0.002 * height, "{} Hz: {error}", l.frequency_hz);
        }
    }

    /// As for the periods: mean of |error|²/variance is 1 within five of its own deviations, and the pooled floor
    /// (nine bins of three to spare) adds 1/27.
    #[test]
    fn variance_is_that_of_the_error() {
        let (x, y) = record(0.02);
        let curve = whole_record_ratio(&x, &y, RATE_HZ, 4000..44_000).unwrap();
        let inside: Vec<&RatioLine> =
            curve.lines.iter().filter(|l| (100.0..2500.0).contains(&l.frequency_hz)).collect();
        let n = inside.len() as f64;
        let relative = |l: &&RatioLine| (l.ratio - truth(l.frequency_hz)).norm_sqr() / l.variance;
        let mean = inside.iter().map(relative).sum::<f64>() / n;
        assert!((mean - 1.0).abs() < 5.0 / n.sqrt() + 1.0 / 27.0, "{mean} of {n}");
    }
}
