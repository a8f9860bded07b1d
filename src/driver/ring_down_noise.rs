//! What else is in a take: hum of the mains and the colour of the noise, both from its quiet stretches.
//!
//! Hum: the mains frequency is found to a hundredth of a hertz by the power of its fundamental over all quiet stretches
//! together; harmonics that stand out are kept as nuisance lines. Noise: an autoregressive model (Levinson 1947) whose
//! prediction-error filter whitens data and model alike, so that low-frequency rumble is neither overweighted in the fit
//! nor forgotten in its uncertainty.

use super::ring_down_projection::{dot, Projection};
use std::f64::consts::TAU;
use std::ops::Range;

/// Hum and noise of a take at its low rate.
#[derive(Clone, Debug)]
pub(super) struct Background {
    /// Lines of the mains that stand out, in Hz.
    pub hum_hz: Vec<f64>,
    /// Amplitude of the strongest of them, full scale 1.
    pub hum_amplitude: f64,
    /// Makes the noise white, of the deviation below.
    pub whitener: Whitener,
    /// Standard deviation of the whitened noise.
    pub noise: f64,
    /// Standard deviation of the noise itself, hum taken off.
    pub level: f64,
}

/// Prediction-error filters of order 0, 1, ... with the factor that brings their errors to one size. The first samples of
/// a ring have no past, so they go through the lower orders: exact for autoregressive noise.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Whitener {
    filters: Vec<(Vec<f64>, f64)>,
}

impl Whitener {
    /// Leaves everything as it is: for noise that is white already.
    pub(super) fn none() -> Self {
        Whitener { filters: vec![(vec![1.0], 1.0)] }
    }

    /// Filters a column; as many values come out as went in.
    pub(super) fn apply(&self, column: &[f64]) -> Vec<f64> {
        let highest = self.filters.len() - 1;
        (0..column.len())
            .map(|n| {
                let (taps, factor) = &self.filters[n.min(highest)];
                factor * taps.iter().enumerate().map(|(k, a)| a * column[n - k]).sum::<f64>()
            })
            .collect()
    }
}

/// Order of the autoregressive model at 24 samples a period: half a period.
const ORDER: usize = 12;
/// A line stands out when it exceeds the noise beside it by this factor (amplitude; 1 in 10⁵ by chance).
const STANDS_OUT: f64 = 5.0;
const HARMONICS: usize = 8;

/// Looks at the quiet stretches. `floor` is the least noise assumed: what the model of a ring cannot be trusted to.
pub(super) fn background(samples: &[f64], rate_hz: f64, quiet: &[Range<usize>], floor: f64) -> Background {
    let stretches: Vec<&[f64]> = quiet.iter().filter_map(|r| samples.get(r.clone())).collect();
    let length: usize = stretches.iter().map(|s| s.len()).sum();
    if (length as f64) < 0.2 * rate_hz || length < 8 * ORDER {
        return Background {
            hum_hz: Vec::new(),
            hum_amplitude: 0.0,
            whitener: Whitener::none(),
            noise: floor,
            level: floor,
        };
    }
    let (hum_hz, hum_amplitude) = hum_lines(samples, rate_hz, quiet);
    let cleaned: Vec<Vec<f64>> = stretches.iter().map(|s| without_lines(s, rate_hz, &hum_hz)).collect();
    let mut correlation = autocorrelation(&cleaned);
    let level = correlation[0].max(0.0).sqrt();
    correlation[0] += floor * floor;
    let (whitener, variance) = levinson(&correlation);
    Background { hum_hz, hum_amplitude, whitener, noise: variance.max(floor * floor * 1e-6).sqrt(), level }
}

fn hum_lines(samples: &[f64], rate_hz: f64, quiet: &[Range<usize>]) -> (Vec<f64>, f64) {
    let mut best = (0.0, 0.0);
    for mains in [50.0, 60.0] {
        for k in -20..=20 {
            let f = mains + 0.01 * f64::from(k);
            let a = line(samples, rate_hz, quiet, f);
            if a > best.1 {
                best = (f, a);
            }
        }
    }
    let mut lines = Vec::new();
    let mut strongest = 0.0_f64;
    for h in 1..=HARMONICS {
        let f = best.0 * h as f64;
        if f > 0.4 * rate_hz {
            break;
        }
        let beside: f64 =
            [-7.3, -5.1, -3.7, 3.7, 5.1, 7.3].iter().map(|d| line(samples, rate_hz, quiet, f + d).powi(2)).sum::<f64>()
                / 6.0;
        let a = line(samples, rate_hz, quiet, f);
        if a > STANDS_OUT * beside.sqrt() {
            lines.push(f);
            strongest = strongest.max(a);
        }
    }
    (lines, strongest)
}

/// Amplitude of one line over all stretches together, phase running through.
fn line(samples: &[f64], rate_hz: f64, quiet: &[Range<usize>], f: f64) -> f64 {
    let (mut re, mut im, mut count) = (0.0, 0.0, 0_usize);
    let (turn_c, turn_s) = ((TAU * f / rate_hz).cos(), (TAU * f / rate_hz).sin());
    for range in quiet {
        let Some(part) = samples.get(range.clone()) else { continue };
        let mean = part.iter().sum::<f64>() / part.len().max(1) as f64;
        let phase = TAU * f * range.start as f64 / rate_hz;
        let (mut c, mut s) = (phase.cos(), phase.sin());
        for v in part {
            re += (v - mean) * c;
            im += (v - mean) * s;
            (c, s) = (c * turn_c - s * turn_s, s * turn_c + c * turn_s);
        }
        count += part.len();
    }
    2.0 * re.hypot(im) / count.max(1) as f64
}

/// Takes lines and mean off a stretch by least squares.
fn without_lines(part: &[f64], rate_hz: f64, lines: &[f64]) -> Vec<f64> {
    let mut columns = vec![vec![1.0; part.len()]];
    for f in lines {
        let step = TAU * f / rate_hz;
        columns.push((0..part.len()).map(|n| (step * n as f64).cos()).collect());
        columns.push((0..part.len()).map(|n| (step * n as f64).sin()).collect());
    }
    Projection::new(&columns).residual(part)
}

fn autocorrelation(parts: &[Vec<f64>]) -> Vec<f64> {
    let mut out = vec![0.0; ORDER + 1];
    let total: usize = parts.iter().map(Vec::len).sum();
    for part in parts {
        for (lag, sum) in out.iter_mut().enumerate() {
            if lag < part.len() {
                *sum += dot(&part[lag..], &part[..part.len() - lag]);
            }
        }
    }
    out.iter_mut().for_each(|v| *v /= total.max(1) as f64);
    out
}

/// Prediction-error filters of all orders and the error's variance at the highest.
fn levinson(correlation: &[f64]) -> (Whitener, f64) {
    let mut filter = vec![1.0];
    let mut error = correlation[0];
    let mut orders = vec![(filter.clone(), error)];
    for m in 1..correlation.len() {
        if error <= 0.0 {
            break;
        }
        let sum: f64 = filter.iter().enumerate().map(|(k, a)| a * correlation[m - k]).sum();
        let reflection = -sum / error;
        if reflection.abs() >= 1.0 {
            break;
        }
        filter.push(0.0);
        let before = filter.clone();
        for k in 0..=m {
            filter[k] = before[k] + reflection * before[m - k];
        }
        error *= 1.0 - reflection * reflection;
        orders.push((filter.clone(), error));
    }
    let filters = orders.into_iter().map(|(taps, e)| (taps, if e > 0.0 { (error / e).sqrt() } else { 1.0 }));
    (Whitener { filters: filters.collect() }, error)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    #[test]
    fn whitens_a_first_order_process() {
        // x[n] = 0.9 x[n−1] + e[n]: the prediction-error filter is (1, −0.9), the error's deviation that of e.
        let mut random = Random::new(1);
        let mut x = 0.0;
        let samples: Vec<f64> = (0..20_000)
            .map(|_| {
                x = 0.9 * x + random.normal();
                x
            })
            .collect();
        let whole = 0..samples.len();
        let b = background(&samples, 1000.0, &[whole], 0.0);
        // Standard error of an autoregressive coefficient: √((1 − 0.81)/20000) = 0.003.
        let (taps, _) = b.whitener.filters.last().unwrap();
        assert!((taps[1] + 0.9).abs() < 0.02, "{taps:?}");
        assert!((b.noise - 1.0).abs() < 0.03, "{}", b.noise);
    }

    #[test]
    fn finds_the_mains_and_its_harmonic() {
        let mut random = Random::new(2);
        let samples: Vec<f64> = (0..8000)
            .map(|n| TAU * n as f64 / 1000.0)
            .map(|w| (w * 49.97).sin() + 0.3 * (w * 149.91).cos() + 0.1 * random.normal())
            .collect();
        let b = background(&samples, 1000.0, &[0..3000, 5000..8000], 1e-6);
        assert_eq!(b.hum_hz.len(), 2, "{:?}", b.hum_hz);
        assert!((b.hum_hz[0] - 49.97).abs() < 0.011 && (b.hum_amplitude - 1.0).abs() < 0.02, "{b:?}");
        assert!((b.level - 0.1).abs() < 0.01, "{b:?}");
    }
}
