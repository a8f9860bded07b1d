//! Whole periods of a repeated signal: their average, their scatter, and which of them are spoiled.
//!
//! Each period of a steady state is the same, from wherever it is counted, so a period that follows lost samples is only
//! turned; it is turned back. A period inside which something broke differs from all others and is dropped. Method: one
//! transform a period and channel; delay against a reference period by cross-correlation and phase slope; distances
//! between periods, the one closest to the rest (medoid) as centre. Spectra are amplitudes (a sine of amplitude A gives
//! |X| = A on its line). The settling period is left out. Channels are those the caller gives, counted from 0.

use super::period_search::{active_span, find_period};
use crate::math::fft::{self, Complex64};
use crate::math::robust;
use std::f64::consts::PI;
use thiserror::Error;

/// The settling time may be cut short by this part of a period, up to [`SLACK_AT_MOST_S`], because ends are blurred.
const SLACK: f64 = 0.05;
const SLACK_AT_MOST_S: f64 = 0.060;
/// The last moments of the signal are left out: it may be fading.
const GUARD_S: f64 = 0.020;
/// Lines with at least this part of the strongest line's power decide about spoiled periods.
const STRONG: f64 = 1e-5;
/// A period is spoiled when its distance (energy) from the centre is this many times the lower quartile. The distance of
/// pure noise sums thousands of lines and varies by a few per cent; 6 leaves room for a room that is not steady.
const SPOILED_TIMES: f64 = 6.0;
/// Relative distance (energy) below which no period is spoiled: −80 dB.
const NEVER_SPOILED: f64 = 1e-8;
/// Relative distance above which a delay is looked for.
const LOOK_FOR_DELAY: f64 = 1e-4;
/// Products formed at most when comparing all periods with each other.
const COMPARISONS: usize = 20_000_000;

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
    let found = end.saturating_sub(first_sample).checked_div(samples).unwrap_or(0);
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

/// Lines on which the reference channel is strong in the middle period; never the one at zero.
fn strong_lines(spectra: &[Vec<Vec<Complex64>>], reference: usize) -> Vec<usize> {
    let periods = &spectra[reference];
    let middle = &periods[periods.len() / 2];
    let strongest = middle.iter().skip(1).map(|z| z.norm_sqr()).fold(0.0, f64::max);
    (1..middle.len()).filter(|&k| middle[k].norm_sqr() > STRONG * strongest).collect()
}

/// Turns every period back to the phase of the middle one; returns the delays in samples (positive: it came too early,
/// samples were lost before it).
fn align(spectra: &mut [Vec<Vec<Complex64>>], reference: usize, samples: usize, strong: &[usize]) -> Vec<f64> {
    let periods = &spectra[reference];
    let centre = periods[periods.len() / 2].clone();
    let energy: f64 = strong.iter().map(|&l| centre[l].norm_sqr()).sum();
    let delays: Vec<f64> = periods
        .iter()
        .map(|period| {
            let distance: f64 = strong.iter().map(|&l| (period[l] - centre[l]).norm_sqr()).sum();
            if distance < LOOK_FOR_DELAY * energy {
                0.0
            } else {
                delay(period, &centre, samples, strong)
            }
        })
        .collect();
    for channel in spectra {
        for (period, delay) in channel.iter_mut().zip(&delays) {
            turn(period, -delay, samples);
        }
    }
    delays
}

/// By how many samples a period is ahead of the centre, to a fraction of a sample.
fn delay(period: &[Complex64], centre: &[Complex64], samples: usize, strong: &[usize]) -> f64 {
    let mut cross = vec![Complex64::default(); period.len()];
    for &l in strong {
        cross[l] = period[l] * centre[l].conj();
    }
    let correlation = fft::real_inverse(&cross, samples);
    let peak = (0..samples).fold(0, |best, n| if correlation[n] > correlation[best] { n } else { best });
    let ahead = if peak > samples / 2 { (samples - peak) as f64 } else { -(peak as f64) };
    // What is left is a slope of phase, fitted with the lines' power as weight.
    let (mut slope, mut weight) = (0.0, 0.0);
    for &l in strong {
        let omega = 2.0 * PI * l as f64 / samples as f64;
        let turned = cross[l] * Complex64::cis(-omega * ahead);
        slope += omega * turned.im;
        weight += omega * omega * cross[l].norm();
    }
    let rest = if weight > 0.0 { slope / weight } else { 0.0 };
    // Below a hundredth of a sample it is noise; above one it is no rest of a delay.
    if (0.01..1.0).contains(&rest.abs()) {
        ahead + rest
    } else {
        ahead
    }
}

/// Advances a period by some samples.
fn turn(period: &mut [Complex64], advance: f64, samples: usize) {
    if advance != 0.0 {
        for (l, value) in period.iter_mut().enumerate() {
            *value *= Complex64::cis(2.0 * PI * l as f64 * advance / samples as f64);
        }
    }
}

/// Distance (energy of the difference over energy, summed over channels) of each period from the one closest to the rest.
fn distances_from_centre(spectra: &[Vec<Vec<Complex64>>], strong: &[usize]) -> Vec<f64> {
    let count = spectra[0].len();
    let stride = (count * count * strong.len() * spectra.len() / (2 * COMPARISONS)).max(1);
    let lines: Vec<usize> = strong.iter().copied().step_by(stride).collect();
    let energies: Vec<f64> = spectra
        .iter()
        .map(|c| c.iter().flat_map(|p| lines.iter().map(|&l| p[l].norm_sqr())).sum::<f64>() / count as f64)
        .collect();
    let mut distances = vec![vec![0.0; count]; count];
    for i in 0..count {
        for j in 0..i {
            let mut sum = 0.0;
            for (channel, energy) in spectra.iter().zip(&energies) {
                let (a, b) = (&channel[i], &channel[j]);
                let difference: f64 = lines.iter().map(|&l| (a[l] - b[l]).norm_sqr()).sum();
                sum += difference / energy.max(f64::MIN_POSITIVE);
            }
            distances[i][j] = sum;
            distances[j][i] = sum;
        }
    }
    // The lower median of a row is that of the majority even where half of the periods are spoiled.
    let typical = |row: &[f64]| robust::quantile(row, 0.4).unwrap_or(0.0);
    let centre =
        (0..count).fold(0, |best, i| if typical(&distances[i]) < typical(&distances[best]) { i } else { best });
    distances.swap_remove(centre)
}

/// Indices to keep, and those to drop with their distances. The centre itself has distance 0.
fn sort_out(distances: &[f64]) -> (Vec<usize>, Vec<Dropped>) {
    let others: Vec<f64> = distances.iter().copied().filter(|d| *d > 0.0).collect();
    let usual = robust::quantile(&others, 0.25).unwrap_or(0.0);
    let limit = (SPOILED_TIMES * usual).max(NEVER_SPOILED);
    let (kept, spoiled): (Vec<usize>, Vec<usize>) = (0..distances.len()).partition(|&k| distances[k] <= limit);
    (kept, spoiled.into_iter().map(|index| Dropped { index, distance: distances[index] }).collect())
}

/// Jumps of the delay between good periods that are more than the steady drift of an unsynchronised clock.
fn slips(delays: &[f64], kept: &[usize]) -> Vec<Slip> {
    let steps: Vec<f64> = kept.windows(2).map(|w| delays[w[1]] - delays[w[0]]).collect();
    let drift = robust::median(&steps).unwrap_or(0.0);
    let jump = |(step, pair): (&f64, &[usize])| {
        let samples = step - drift;
        (samples.abs() > 1.5).then_some(Slip { before: pair[1], samples })
    };
    steps.iter().zip(kept.windows(2)).filter_map(jump).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::test_signals::{excited_lines, render};

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
    fn too_little_is_said_to_be_so() {
        let mut short = recording(Shape::Sweep, 0.0, 1);
        short.iter_mut().for_each(|c| c.truncate(20_123 + 2 * 48_000 + 10_000));
        let refused = split_known(&slices(&short), RATE_HZ, 0, 48_000);
        assert!(matches!(refused, Err(PeriodsError::TooFew { found: 1, .. })), "{refused:?}");
        assert_eq!(split(&[&[0.0; 1000]], RATE_HZ, 0).expect_err("silence"), PeriodsError::NoPeriod);
        assert_eq!(split(&[], RATE_HZ, 0).expect_err("nothing"), PeriodsError::NoPeriod);
    }
}
