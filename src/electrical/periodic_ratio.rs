//! Ratio of two channels of a periodic take: averaged over whole periods, scatter from period to period.
//!
//! [`crate::signal::periods`] splits, turns back what slipped, and sets aside what does not fit. Here lines are chosen
//! (excited, above the noise, no multiple of the mains), and the variance of a line, which a handful of periods knows
//! badly, is pooled: what scatters is e = Y − H X, and its floor is smooth over neighbouring lines.

use super::ratio::{on_mains, pooled, Method, RatioCurve, RatioLine};
use crate::math::fft::Complex64;
use crate::signal::periods::{split_known, Periods, PeriodsError};

/// A line counts as excited when its power in the source channel is within 30 dB of the strongest line around it.
const EXCITED: f64 = 1e-3;
/// And when its mean stands 15 dB above the scatter of that mean. An empty line does so by chance with (1 + 30/26)⁻²⁶ =
/// 2e-9 (three periods, scatter pooled over 13 lines); at 10 dB it was one line in some takes, and that one spoiled them.
const ABOVE_NOISE: f64 = 30.0;
/// Which of the two channels handed to `split_known` is which.
const SOURCE: usize = 0;
const DRIVER: usize = 1;

/// Ratio driver over source, line by line; `period` in samples.
///
/// # Errors
/// As [`split_known`]: too few good periods.
pub fn periodic_ratio(source: &[f64], driver: &[f64], rate_hz: f64, period: usize) -> Result<RatioCurve, PeriodsError> {
    let periods = split_known(&[source, driver], rate_hz, SOURCE, period)?;
    let lines = lines_of(&periods);
    Ok(RatioCurve {
        lines,
        set_aside: periods.dropped.len(),
        slips: periods.slips.len(),
        snr_db: snr_db(&periods),
        ..RatioCurve::empty(Method::WholePeriods, periods.kept.len())
    })
}

/// Power of the mean over power of the scatter of one period in the driver channel, every fifth line, in dB.
fn snr_db(periods: &Periods) -> f64 {
    let lines = (1..periods.line_count()).step_by(5);
    let signal: f64 = lines.clone().map(|k| periods.mean(DRIVER, k).norm_sqr()).sum();
    let scatter: f64 = lines.map(|k| periods.covariance(DRIVER, DRIVER, k).re).sum();
    10.0 * (signal / scatter.max(f64::MIN_POSITIVE)).log10()
}

fn lines_of(periods: &Periods) -> Vec<RatioLine> {
    let count = periods.kept.len() as f64;
    let candidates: Vec<Candidate> = excited_lines(periods).into_iter().filter_map(|k| candidate(periods, k)).collect();
    let noise: Vec<f64> = candidates.iter().map(|c| c.source_noise).collect();
    let noise = pool(&candidates, &noise);
    let heard = |c: &Candidate, noise: f64| c.source_power > ABOVE_NOISE * noise / count;
    let candidates: Vec<Candidate> =
        candidates.into_iter().zip(noise).filter(|(c, noise)| heard(c, *noise)).map(|(c, _)| c).collect();
    let scatter: Vec<f64> = candidates.iter().map(|c| c.variance * c.source_power).collect();
    let scatter = pool(&candidates, &scatter);
    candidates
        .iter()
        .zip(scatter)
        .map(|(c, s)| RatioLine { frequency_hz: c.frequency_hz, ratio: c.ratio, variance: s / c.source_power })
        .collect()
}

/// A line with what is known before pooling.
struct Candidate {
    frequency_hz: f64,
    ratio: Complex64,
    /// Variance of the ratio by this line alone.
    variance: f64,
    /// Power of the mean source amplitude.
    source_power: f64,
    /// Scatter of the source from period to period.
    source_noise: f64,
}

fn candidate(periods: &Periods, k: usize) -> Option<Candidate> {
    let ratio = periods.ratio(SOURCE, DRIVER, k)?;
    Some(Candidate {
        frequency_hz: periods.frequency_hz(k),
        ratio: ratio.value,
        variance: ratio.variance,
        source_power: periods.mean(SOURCE, k).norm_sqr(),
        source_noise: periods.covariance(SOURCE, SOURCE, k).re,
    })
}

fn pool(candidates: &[Candidate], floor: &[f64]) -> Vec<f64> {
    let frequency_hz: Vec<f64> = candidates.iter().map(|c| c.frequency_hz).collect();
    pooled(&frequency_hz, floor, 0.05, 6)
}

/// Lines of at least [`EXCITED`] of the power of the strongest line around them, mains left out.
pub(super) fn excited_lines(periods: &Periods) -> Vec<usize> {
    let power: Vec<f64> = (0..periods.line_count()).map(|k| periods.mean(SOURCE, k).norm_sqr()).collect();
    let overall = power.iter().skip(1).copied().fold(0.0, f64::max);
    let mut strongest = vec![overall];
    while strongest.len() < power.len() {
        // Blocks of a twelfth of an octave and five lines: exact enough for a threshold.
        let begin = strongest.len();
        let end = ((begin as f64 * 1.06).ceil() as usize + 5).min(power.len());
        let top = power[begin..end].iter().copied().fold(0.0, f64::max);
        strongest.resize(end, top);
    }
    let spacing_hz = periods.frequency_hz(1);
    (1..power.len())
        .filter(|&k| power[k] > EXCITED * strongest[k] && power[k] > 1e-9 * overall)
        .filter(|&k| !on_mains(k as f64 * spacing_hz, 0.51 * spacing_hz))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use std::f64::consts::TAU;

    const RATE_HZ: f64 = 8000.0;
    const PERIOD: usize = 8000;

    /// Odd lines up to 3.6 kHz; the driver channel is half of it, one sample later (periodic, so exactly).
    fn pair(periods: usize, noise: f64, hum: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
        let mut random = Random::new(seed);
        let phases: Vec<f64> = (0..1800).map(|_| TAU * random.uniform()).collect();
        let one: Vec<f64> = (0..PERIOD)
            .map(|i| {
                let tone =
                    |(n, phase): (usize, &f64)| (TAU * (2 * n + 1) as f64 * i as f64 / PERIOD as f64 + phase).cos();
                phases.iter().enumerate().map(tone).sum::<f64>() * 0.005
            })
            .collect();
        let mut noisy = |x: f64| x + noise * random.normal();
        let source = (0..periods * PERIOD).map(|i| noisy(one[i % PERIOD])).collect();
        let mains = |i: usize| hum * (TAU * 50.0 * i as f64 / RATE_HZ).sin();
        let driver = (0..periods * PERIOD).map(|i| noisy(0.5 * one[(i + PERIOD - 1) % PERIOD] + mains(i))).collect();
        (source, driver)
    }

    fn expected(hz: f64) -> Complex64 {
        Complex64::from_polar(0.5, -TAU * hz / RATE_HZ)
    }

    #[test]
    fn exact_without_noise_and_only_on_excited_lines() {
        let (x, y) = pair(6, 0.0, 0.0, 1);
        let curve = periodic_ratio(&x, &y, RATE_HZ, PERIOD).unwrap();
        assert_eq!((curve.set_aside, curve.slips), (0, 0));
        assert!(curve.lines.iter().all(|l| l.frequency_hz.round() as usize % 2 == 1 && !on_mains(l.frequency_hz, 0.5)));
        assert!(curve.lines.iter().all(|l| (l.ratio - expected(l.frequency_hz)).norm() < 1e-9));
    }

    /// The stated variance against the true error: the mean of |error|²/variance over n lines is 1 ± 1/√n, and the
    /// pooled floor (13 lines × 3 periods at least) adds 1/39 of itself; five standard deviations decide.
    #[test]
    fn variance_is_that_of_the_error() {
        let (x, y) = pair(6, 0.02, 0.0, 2);
        let curve = periodic_ratio(&x, &y, RATE_HZ, PERIOD).unwrap();
        assert!(curve.lines.iter().all(|l| l.frequency_hz.round() as usize % 2 == 1), "an empty line counts");
        let n = curve.lines.len() as f64;
        let relative = |l: &RatioLine| (l.ratio - expected(l.frequency_hz)).norm_sqr() / l.variance;
        let mean = curve.lines.iter().map(relative).sum::<f64>() / n;
        assert!((mean - 1.0).abs() < 5.0 / n.sqrt() + 1.0 / 39.0, "{mean} over {n}");
    }

    #[test]
    fn hum_is_left_out() {
        let (x, y) = pair(6, 0.0, 0.01, 3);
        let curve = periodic_ratio(&x, &y, RATE_HZ, PERIOD).unwrap();
        assert!(curve.lines.iter().all(|l| (l.ratio - expected(l.frequency_hz)).norm() < 1e-9));
    }
}
