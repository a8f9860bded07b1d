//! Ratio of two takes of one channel, played and recorded one after the other.
//!
//! Each take is a repeated signal; its mean line by line and the scatter of its periods are taken by themselves. Two takes
//! have begun at different moments of the signal, so their ratio turns with frequency: ρ(f) e^(−j2πfτ). The delay τ is
//! found from the cross-correlation and the slope of phase, weighted by power; what the device under test turns by itself
//! stays in it, and whoever knows the device fits the rest. Input, converter and loudspeaker path cancel as long as they
//! stay the same, gain included; nothing in a single ratio shows a gain that moved.

use super::periodic_ratio::excited_lines;
use super::ratio::{pooled, Method, RatioCurve, RatioLine};
use crate::math::fft::{self, Complex64};
use crate::signal::periods::{split_known, PeriodsError};
use std::f64::consts::TAU;

/// A line of the lower take stands this far (15 dB, power) above the scatter of its mean.
const ABOVE_NOISE: f64 = 30.0;

/// The mean of a take's periods.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeSpectrum {
    /// Samples a second.
    pub rate_hz: f64,
    /// Samples of a period.
    pub period: usize,
    /// Amplitude of each line, phases counted from the first sample.
    pub mean: Vec<Complex64>,
    /// E|error|² of the mean of each line.
    pub variance: Vec<f64>,
    /// Lines that carry the signal, mains left out.
    pub excited: Vec<usize>,
    /// Periods that count, are spoiled, and places where samples were lost.
    pub counts: (usize, usize, usize),
}

/// Mean spectrum of a repeated signal whose period is known.
///
/// # Errors
/// As [`split_known`]: too few good periods.
pub fn take_spectrum(samples: &[f64], rate_hz: f64, period: usize) -> Result<TakeSpectrum, PeriodsError> {
    let periods = split_known(&[samples], rate_hz, 0, period)?;
    let count = periods.kept.len() as f64;
    // The window began `first_sample` into the take: turned back to its first sample.
    let turn = |k: usize| Complex64::cis(-TAU * ((k * periods.first_sample) % period) as f64 / period as f64);
    let lines = 0..periods.line_count();
    Ok(TakeSpectrum {
        rate_hz,
        period,
        mean: lines.clone().map(|k| periods.mean(0, k) * turn(k)).collect(),
        variance: lines.map(|k| periods.covariance(0, 0, k).re / count).collect(),
        excited: excited_lines(&periods),
        counts: (periods.kept.len(), periods.dropped.len(), periods.slips.len()),
    })
}

impl TakeSpectrum {
    fn hz(&self, line: usize) -> f64 {
        line as f64 * self.rate_hz / self.period as f64
    }

    /// By how many seconds this take came later than another, to a period.
    pub fn later_s(&self, other: &TakeSpectrum) -> f64 {
        let mut cross = vec![Complex64::default(); self.mean.len()];
        for &k in &other.excited {
            cross[k] = self.mean[k] * other.mean[k].conj();
        }
        let n = self.period;
        let correlation = fft::real_inverse(&cross, n);
        // With its sign: odd lines alone come back upside down after half a period.
        let peak = (0..n).fold(0, |best, i| if correlation[i] > correlation[best] { i } else { best });
        let whole = if peak > n / 2 { peak as f64 - n as f64 } else { peak as f64 };
        let (mut slope, mut weight) = (0.0, 0.0);
        for &k in &other.excited {
            let omega = TAU * k as f64 / n as f64;
            let rest = cross[k] * Complex64::cis(omega * whole);
            slope -= omega * rest.im;
            weight += omega * omega * rest.norm();
        }
        let rest = if weight > 0.0 { slope / weight } else { 0.0 };
        (whole + rest.clamp(-1.0, 1.0)) / self.rate_hz
    }

    /// This take moved earlier by some seconds.
    #[must_use]
    pub fn earlier(mut self, by_s: f64) -> TakeSpectrum {
        let step = self.rate_hz / self.period as f64;
        self.mean.iter_mut().enumerate().for_each(|(k, m)| *m *= Complex64::cis(TAU * k as f64 * step * by_s));
        self
    }

    /// Mean of two takes that are in step.
    #[must_use]
    pub fn averaged(mut self, other: &TakeSpectrum) -> TakeSpectrum {
        self.mean.iter_mut().zip(&other.mean).for_each(|(a, b)| *a = 0.5 * (*a + b));
        self.variance.iter_mut().zip(&other.variance).for_each(|(a, b)| *a = 0.25 * (*a + b));
        self.counts.0 += other.counts.0;
        self
    }

    /// Power of the mean over that of the scatter of one period on the excited lines, in dB.
    pub fn snr_db(&self) -> f64 {
        let sum = |values: &dyn Fn(usize) -> f64| self.excited.iter().map(|&k| values(k)).sum::<f64>();
        let scatter = sum(&|k| self.variance[k]) * self.counts.0 as f64;
        10.0 * (sum(&|k| self.mean[k].norm_sqr()) / scatter.max(f64::MIN_POSITIVE)).log10()
    }

    /// This take over another on the other's excited lines, as they stand (no delay taken out), within a band.
    pub fn over(&self, other: &TakeSpectrum, band_hz: (f64, f64)) -> RatioCurve {
        let lines: Vec<usize> = other
            .excited
            .iter()
            .copied()
            .filter(|&k| k < self.mean.len() && (band_hz.0..=band_hz.1).contains(&other.hz(k)))
            .collect();
        let hz: Vec<f64> = lines.iter().map(|&k| other.hz(k)).collect();
        let floor = |s: &TakeSpectrum| pooled(&hz, &lines.iter().map(|&k| s.variance[k]).collect::<Vec<_>>(), 0.05, 6);
        let (own, others) = (floor(self), floor(other));
        let heard = |i: &usize| other.mean[lines[*i]].norm_sqr() > ABOVE_NOISE * others[*i];
        let line = |i: usize| {
            let (x, ratio) = (other.mean[lines[i]], self.mean[lines[i]] / other.mean[lines[i]]);
            let variance = (own[i] + ratio.norm_sqr() * others[i]) / x.norm_sqr();
            RatioLine { frequency_hz: hz[i], ratio, variance }
        };
        RatioCurve {
            lines: (0..lines.len()).filter(heard).map(line).collect(),
            set_aside: self.counts.1,
            slips: self.counts.2,
            snr_db: self.snr_db(),
            ..RatioCurve::empty(Method::WholePeriods, self.counts.0)
        }
    }
}

/// What two takes of the same thing tell of the gain between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreement {
    /// ln of the later one's gain over the earlier one's.
    pub ln_gain: f64,
    /// Root mean square departure of the ratio from that gain, noise taken off.
    pub departure: f64,
}

/// Compares two takes of the same thing that are in step; `later` over `earlier`.
pub fn agreement(later: &TakeSpectrum, earlier: &TakeSpectrum, band_hz: (f64, f64)) -> Agreement {
    let lines = later.over(earlier, band_hz).lines;
    let (mut sum, mut weight) = (Complex64::default(), 0.0);
    for l in &lines {
        sum += l.ratio / l.variance.max(1e-30);
        weight += 1.0 / l.variance.max(1e-30);
    }
    if weight <= 0.0 {
        return Agreement { ln_gain: f64::INFINITY, departure: f64::INFINITY };
    }
    let mean = sum / weight;
    let n = lines.len() as f64;
    let excess = lines.iter().map(|l| (l.ratio - mean).norm_sqr() - l.variance).sum::<f64>() / n / mean.norm_sqr();
    Agreement { ln_gain: mean.norm().ln(), departure: excess.max(0.0).sqrt() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::test_signals::render;

    const RATE_HZ: f64 = 48_000.0;

    /// The signal after `late` samples of silence, times `gain`, with noise.
    fn spectrum(late: usize, gain: f64, noise: f64, seed: u64) -> TakeSpectrum {
        let shape = Shape::Multisine;
        let stimulus = Stimulus {
            shape,
            rate_hz: RATE_HZ,
            period_s: 1.0,
            periods: 5,
            low_hz: 5.0,
            high_hz: 20_000.0,
            peak_dbfs: -6.0,
            seed: 3,
            travel_shape: None,
        };
        let mut random = Random::new(seed);
        let mut samples = vec![0.0; late];
        samples.extend(render(&stimulus).unwrap().iter().map(|s| gain * s));
        samples.iter_mut().for_each(|s| *s += noise * random.normal());
        take_spectrum(&samples, RATE_HZ, 48_000).unwrap()
    }

    /// Delay of 2500 samples and half the gain; the slope of phase of about 9000 lines with 1/100 of noise each is good to
    /// 1e-3 samples.
    #[test]
    fn delay_and_gain_of_two_takes() {
        let (a, b) = (spectrum(1000, 1.0, 1e-4, 1), spectrum(3500, 0.5, 1e-4, 2));
        let late = b.later_s(&a) * RATE_HZ;
        assert!((late - 2500.0).abs() < 0.01, "{late}");
        let b = b.earlier(2500.0 / RATE_HZ);
        let found = agreement(&b, &a, (5.0, 20_000.0));
        assert!((found.ln_gain - 0.5f64.ln()).abs() < 1e-3 && found.departure < 1e-2, "{found:?}");
    }

    /// Σ|ρ − ½|²/variance over n lines is n within five deviations √n, plus 3 % for the pooled floor (27 spectra).
    #[test]
    fn variances_are_those_of_the_errors() {
        let (a, b) = (spectrum(1000, 1.0, 0.01, 1), spectrum(1000, 0.5, 0.01, 2));
        let lines = b.over(&a, (5.0, 20_000.0)).lines;
        let n = lines.len() as f64;
        let mean = lines.iter().map(|l| (l.ratio - 0.5).norm_sqr() / l.variance).sum::<f64>() / n;
        assert!((mean - 1.0).abs() < 5.0 / n.sqrt() + 0.03, "{mean} of {n}");
    }
}
