//! Whole periods of a repeated signal: their average, their scatter, and which of them are spoiled.
//!
//! Each period of a steady state is the same, from wherever it is counted, so a period that follows lost samples is only
//! turned; it is turned back. A period inside which something broke differs from all others and is dropped. Method: one
//! transform a period and channel; delay against a reference period by cross-correlation and phase slope; distances
//! between periods, the one closest to the rest (medoid) as centre. Spectra are amplitudes (a sine of amplitude A gives
//! |X| = A on its line). The settling period is left out. Channels are those the caller gives, counted from 0.

mod steadiness;
#[cfg(test)]
mod tests;

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
    /// Their means: `means[channel][line]`.
    means: Vec<Vec<Complex64>>,
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
        self.means[channel][line]
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
    Ok(Periods {
        rate_hz,
        samples,
        first_sample,
        found,
        kept,
        dropped,
        slips,
        means: spectra.iter().map(|c| mean_of(c)).collect(),
        spectra,
    })
}

fn mean_of(periods: &[Vec<Complex64>]) -> Vec<Complex64> {
    let mut mean = periods[0].clone();
    for period in &periods[1..] {
        mean.iter_mut().zip(period).for_each(|(sum, line)| *sum += line);
    }
    let scale = 1.0 / periods.len() as f64;
    mean.iter_mut().for_each(|line| *line *= scale);
    mean
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
