//! Whole periods of a repeated signal: their average, their scatter, and which of them are spoiled.
//!
//! Each period of a steady state is the same, from wherever it is counted, so a period that follows lost samples is only
//! turned; it is turned back. A period inside which something broke differs from all others and is dropped. Method: one
//! transform a period and channel; delay against a reference period by cross-correlation and phase slope; distances
//! between periods, the one closest to the rest (medoid) as centre. Spectra are amplitudes (a sine of amplitude A gives
//! |X| = A on its line). The settling period is left out. Channels are those the caller gives, counted from 0.

mod steadiness;

use super::period_search::{active_span, find_period};
use crate::math::fft::{self, Complex64};
use steadiness::{align, distances_from_centre, slips, sort_out, strong_lines};
use thiserror::Error;

/// The settling time may be cut short by this part of a period, up to [`SLACK_AT_MOST_S`], because ends are blurred.
const SLACK: f64 = 0.05;
const SLACK_AT_MOST_S: f64 = 0.060;
/// The last moments of the signal are left out: it may be fading.
const GUARD_S: f64 = 0.020;
/// Spectral values kept at most (128 MB): of an hour's recording the first minutes are read.
const VALUES_AT_MOST: usize = 8_000_000;

/// Why a recording gives no periods.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum PeriodsError {
    /// It does not repeat itself.
    #[error("the recording does not repeat itself")]
    NoPeriod,
    /// Fewer than two good periods after the settling one.
    #[error("only {good} good periods of {samples} samples after the settling one, 2 are needed")]
    TooFew {
        /// Good periods.
        good: usize,
        /// Whole periods found.
        found: usize,
        /// Length of a period.
        samples: usize,
    },
}

/// A period left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Dropped {
    /// Which one, counted from 0 after the settling period.
    pub index: usize,
    /// Energy of its difference from the centre, against the energy of the signal.
    pub distance: f64,
}

/// Samples lost (positive) or repeated (negative) somewhere before a period.
#[derive(Clone, Debug, PartialEq)]
pub struct Slip {
    /// The first whole period after it, counted from 0 after the settling one.
    pub before: usize,
    /// Samples lost; repeated ones are negative.
    pub samples: f64,
}

/// The good periods of a recording.
#[derive(Clone, Debug)]
pub struct Periods {
    /// Samples a second.
    pub rate_hz: f64,
    /// Length of a period.
    pub samples: usize,
    /// Where the first period after the settling one begins in the recording.
    pub first_sample: usize,
    /// Whole periods found, spoiled ones included.
    pub found: usize,
    /// Indices of the good ones.
    pub kept: Vec<usize>,
    /// The spoiled ones.
    pub dropped: Vec<Dropped>,
    /// Where the recording lost or repeated samples.
    pub slips: Vec<Slip>,
    /// Amplitude spectra of the good periods: `spectra[channel][period][line]`, lines 0 ..= samples/2.
    pub spectra: Vec<Vec<Vec<Complex64>>>,
}

/// A ratio of two channels on one line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratio {
    /// Mean of one channel over mean of the other.
    pub value: Complex64,
    /// Variance E|δ|² of the value (real and imaginary part together) from the scatter of the periods, the covariance of
    /// both channels included; 2(K − 1) degrees of freedom for K periods.
    pub variance: f64,
}

impl Periods {
    /// Frequency of a line.
    pub fn frequency_hz(&self, line: usize) -> f64 {
        line as f64 * self.rate_hz / self.samples as f64
    }

    /// Number of lines, the one at zero included.
    pub fn line_count(&self) -> usize {
        self.samples / 2 + 1
    }

    /// Mean amplitude of a channel on a line.
    pub fn mean(&self, channel: usize, line: usize) -> Complex64 {
        let periods = &self.spectra[channel];
        periods.iter().map(|p| p[line]).sum::<Complex64>() / periods.len() as f64
    }

    /// Covariance E δ_a δ_b* of one period (divide by the number of periods for that of the mean); for a = b the variance.
    pub fn covariance(&self, a: usize, b: usize, line: usize) -> Complex64 {
        let (mean_a, mean_b) = (self.mean(a, line), self.mean(b, line));
        let products = self.spectra[a].iter().zip(&self.spectra[b]);
        let sum: Complex64 = products.map(|(x, y)| (x[line] - mean_a) * (y[line] - mean_b).conj()).sum();
        sum / (self.kept.len() - 1) as f64
    }

    /// Ratio of channel `to` over channel `from` on a line; none where `from` is silent there.
    pub fn ratio(&self, from: usize, to: usize, line: usize) -> Option<Ratio> {
        let k = self.kept.len() as f64;
        let base = self.mean(from, line);
        if base.norm_sqr() <= f64::MIN_POSITIVE {
            return None;
        }
        let value = self.mean(to, line) / base;
        let pairs = self.spectra[from].iter().zip(&self.spectra[to]);
        let left_over: f64 = pairs.map(|(x, y)| (y[line] - value * x[line]).norm_sqr()).sum();
        Some(Ratio { value, variance: left_over / ((k - 1.0) * k * base.norm_sqr()) })
    }

    /// Power of the mean over the power of its scatter on a line: how far the signal stands above the noise.
    pub fn signal_to_noise(&self, channel: usize, line: usize) -> f64 {
        let noise = self.covariance(channel, channel, line).re / self.kept.len() as f64;
        self.mean(channel, line).norm_sqr() / noise.max(f64::MIN_POSITIVE)
    }
}

/// Finds the period on the `reference` channel and splits all channels.
///
/// # Errors
/// [`PeriodsError::NoPeriod`] where nothing repeats, [`PeriodsError::TooFew`] where less than two good periods are left.
pub fn split(channels: &[&[f64]], rate_hz: f64, reference: usize) -> Result<Periods, PeriodsError> {
    let samples = channels.get(reference).and_then(|c| find_period(c, rate_hz)).ok_or(PeriodsError::NoPeriod)?;
    split_known(channels, rate_hz, reference, samples)
}

/// Splits all channels into periods of a known length in samples.
///
/// # Errors
/// As [`split`].
pub fn split_known(
    channels: &[&[f64]],
    rate_hz: f64,
    reference: usize,
    samples: usize,
) -> Result<Periods, PeriodsError> {
    let signal = channels.get(reference).ok_or(PeriodsError::NoPeriod)?;
    let span = active_span(signal, rate_hz).ok_or(PeriodsError::NoPeriod)?;
    let slack = (SLACK * samples as f64).min(SLACK_AT_MOST_S * rate_hz) as usize;
    let first_sample = span.start + samples - slack.min(samples);
    let end = span.end.saturating_sub((GUARD_S * rate_hz) as usize);
    let whole = end.saturating_sub(first_sample).checked_div(samples).unwrap_or(0);
    let found = whole.min(VALUES_AT_MOST / (samples / 2 + 1) / channels.len());
    if found < 2 {
        return Err(PeriodsError::TooFew { good: found, found, samples });
    }
    let mut spectra: Vec<Vec<Vec<Complex64>>> = channels
        .iter()
        .map(|c| (0..found).map(|k| spectrum(c, first_sample + k * samples, samples)).collect())
        .collect();
    let strong = strong_lines(&spectra, reference);
    let delays = align(&mut spectra, reference, samples, &strong);
    let distances = distances_from_centre(&spectra, &strong);
    let (kept, dropped) = sort_out(&distances);
    if kept.len() < 2 {
        return Err(PeriodsError::TooFew { good: kept.len(), found, samples });
    }
    for channel in &mut spectra {
        let mut index = 0;
        channel.retain(|_| {
            index += 1;
            kept.contains(&(index - 1))
        });
    }
    let slips = slips(&delays, &kept);
    Ok(Periods { rate_hz, samples, first_sample, found, kept, dropped, slips, spectra })
}

/// Amplitude spectrum of one period.
fn spectrum(signal: &[f64], start: usize, samples: usize) -> Vec<Complex64> {
    let mut lines = fft::real_forward(&signal[start..start + samples]);
    let scale = 2.0 / samples as f64;
    lines.iter_mut().for_each(|z| *z *= scale);
    lines[0] *= 0.5;
    if samples % 2 == 0 {
        lines[samples / 2] *= 0.5;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::test_signals::{excited_lines, render};
    use std::f64::consts::PI;

    const RATE_HZ: f64 = 48_000.0;

    fn stimulus(shape: Shape) -> Stimulus {
        let (low_hz, high_hz) = (5.0, 20_000.0);
        Stimulus { shape, rate_hz: RATE_HZ, period_s: 1.0, periods: 6, low_hz, high_hz, peak_dbfs: -6.0, seed: 3 }
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
}
