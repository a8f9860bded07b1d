//! Where a signal begins and ends in a recording, and whether it repeats itself.
//!
//! Method: energies of 10 ms blocks for the span; autocorrelation of the span, normalised by the energies of the two parts
//! that overlap, for the period (Wiener-Khinchin; textbook). The search runs on a thinned-out copy, the exact lag is then
//! taken from all samples. Valid for periods of [`SHORTEST_S`] or more that occur at least twice.

use crate::math::decimate;
use crate::math::fft;
use crate::math::robust;
use crate::math::vectors::{dot, energy, mean};
use std::ops::Range;

/// Shortest period looked for: shorter ones are tones for us.
pub const SHORTEST_S: f64 = 0.2;
/// Autocorrelation from which on a lag may be a period. A recording of five periods that lost samples in the middle still
/// reaches 0.7; independent noise of 10 s stays below 0.05, and a single sweep below 0.3.
const LEAST_CORRELATION: f64 = 0.5;
/// A shorter lag is preferred when it reaches this part of the best one, which may be a multiple of it, or twice the
/// period less some lost samples (these break every third pair of a recording of four periods, and no pair of that lag).
const NEARLY_AS_GOOD: f64 = 0.6;
/// Around that lag the best one within this part of it is taken: signals of low frequency have lobes beside the peak.
const LOBES: f64 = 0.1;
/// Rate at which the search runs.
const SEARCH_RATE_HZ: f64 = 12_000.0;
/// A signal with less than this part of its power below half that rate is searched at its own.
const LOW_PART: f64 = 0.05;
/// Length of a block.
const BLOCK_S: f64 = 0.010;
/// Energy of a block against the louder ones from which on it belongs to the signal: −20 dB.
const ACTIVE: f64 = 0.01;
/// Blocks in a row that make a beginning or an end, so that a click does not.
const RUN: usize = 3;

/// From the first to the last loud part of a recording, in samples (10 ms resolution). None where nothing varies.
pub fn active_span(signal: &[f64], rate_hz: f64) -> Option<Range<usize>> {
    let block = ((BLOCK_S * rate_hz) as usize).max(1);
    let centre = robust::median(&signal.chunks(block).map(mean).collect::<Vec<_>>())?;
    let energies: Vec<f64> = signal.chunks(block).map(|b| energy(b, centre) / b.len() as f64).collect();
    let loud = robust::quantile(&energies, 0.9)?;
    if loud <= 0.0 {
        return None;
    }
    let active: Vec<bool> = energies.iter().map(|e| *e >= ACTIVE * loud).collect();
    let run = RUN.min(active.len());
    let first = active.windows(run).position(|w| w.iter().all(|a| *a))?;
    let last = active.windows(run).rposition(|w| w.iter().all(|a| *a))? + run;
    Some(first * block..(last * block).min(signal.len()))
}

/// Period of a recording in samples, none where it does not repeat itself. It may begin with silence and end with a tail.
pub fn find_period(signal: &[f64], rate_hz: f64) -> Option<usize> {
    let span = active_span(signal, rate_hz)?;
    let part = &signal[span];
    let (thin, thinning) = thinned(part, rate_hz);
    let shortest = (SHORTEST_S * rate_hz / thinning as f64) as usize;
    // Two whole periods must fit; a little more is allowed because the span's ends are known to a block only.
    let longest = (thin.len() as f64 * 0.52) as usize;
    if shortest < 2 || longest <= shortest + 1 {
        return None;
    }
    let correlation = normalised_autocorrelation(&thin, longest);
    let best = correlation[shortest..longest].iter().fold(0.0_f64, |a, b| a.max(*b));
    if best < LEAST_CORRELATION {
        return None;
    }
    let peak = |l: usize| correlation[l] >= correlation[l - 1] && correlation[l] >= correlation[l + 1];
    let first = (shortest..longest).find(|&l| correlation[l] >= NEARLY_AS_GOOD * best && peak(l))?;
    let lobes = first..(first + (LOBES * first as f64) as usize).min(longest);
    let coarse = lobes.fold(first, |best, l| if correlation[l] > correlation[best] { l } else { best });
    Some(refine(part, coarse * thinning, 2 * thinning))
}

/// The signal without its mean, thinned out near the search rate, and by which factor. The filter against folding matters:
/// without it a linear sweep agrees with itself at some lags.
fn thinned(signal: &[f64], rate_hz: f64) -> (Vec<f64>, usize) {
    let centre = mean(signal);
    let centred: Vec<f64> = signal.iter().map(|s| s - centre).collect();
    let times = (rate_hz / SEARCH_RATE_HZ).log2().floor().max(0.0) as u32;
    let thin = decimate::thinned(&centred, times);
    let power = |s: &[f64]| dot(s, s) / s.len().max(1) as f64;
    if power(&thin) < LOW_PART * power(&centred) {
        return (centred, 1);
    }
    (thin, 1 << times)
}

/// Autocorrelation at lags 0 ..= longest, each divided by the root of the energies of the two overlapping parts.
fn normalised_autocorrelation(signal: &[f64], longest: usize) -> Vec<f64> {
    let n = signal.len();
    let size = fft::fast_length(n + longest + 1);
    let mut padded = signal.to_vec();
    padded.resize(size, 0.0);
    let mut spectrum = fft::real_forward(&padded);
    spectrum.iter_mut().for_each(|z| *z = (z.norm_sqr()).into());
    let products = fft::real_inverse(&spectrum, size);
    let mut energy = vec![0.0; n + 1];
    for (i, s) in signal.iter().enumerate() {
        energy[i + 1] = energy[i] + s * s;
    }
    let scale = |lag: usize| (energy[n - lag] * (energy[n] - energy[lag])).sqrt();
    (0..=longest).map(|lag| if scale(lag) > 0.0 { products[lag] / scale(lag) } else { 0.0 }).collect()
}

/// The lag within ± `reach` of `about` at which the signal agrees best with itself.
fn refine(signal: &[f64], about: usize, reach: usize) -> usize {
    let product = |lag: usize| dot(signal, &signal[lag.min(signal.len())..]);
    let candidates = about.saturating_sub(reach).max(1)..=about + reach;
    let scored = candidates.map(|lag| (lag, product(lag) / (signal.len().saturating_sub(lag).max(1)) as f64));
    scored.fold((about, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best }).0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::test_signals::render;

    pub fn stimulus(shape: Shape, period_s: f64) -> Stimulus {
        let (low_hz, high_hz) = (5.0, 20_000.0);
        Stimulus {
            shape,
            rate_hz: 48_000.0,
            period_s,
            periods: 4,
            low_hz,
            high_hz,
            peak_dbfs: -6.0,
            seed: 3,
            travel_shape: None,
        }
    }

    /// A recording: silence, the signal, a tail; noise of the given deviation all over.
    fn recording(signal: &[f64], noise: f64) -> Vec<f64> {
        let mut random = Random::new(5);
        let mut out = vec![0.0; 31_234];
        out.extend_from_slice(signal);
        out.resize(out.len() + 20_000, 0.0);
        out.iter_mut().for_each(|s| *s += noise * random.normal());
        out
    }

    #[test]
    fn finds_the_period_between_silence_and_tail_even_in_noise() {
        for (shape, period_s) in [(Shape::Sweep, 1.0), (Shape::Multisine, 1.0), (Shape::Multisine, 2.0)] {
            let signal = render(&stimulus(shape, period_s)).expect("a signal");
            for noise in [0.0, 0.003, 0.1] {
                let found = find_period(&recording(&signal, noise), 48_000.0);
                assert_eq!(found, Some((48_000.0 * period_s) as usize), "{shape:?} {period_s} s, noise {noise}");
            }
        }
    }

    #[test]
    fn finds_it_when_samples_were_lost() {
        let mut signal = render(&stimulus(Shape::Multisine, 1.0)).expect("a signal");
        signal.drain(100_000..101_024);
        assert_eq!(find_period(&recording(&signal, 0.001), 48_000.0), Some(48_000));
    }

    #[test]
    fn finds_none_in_noise_silence_and_a_single_sweep() {
        let mut random = Random::new(1);
        let noise: Vec<f64> = (0..480_000).map(|_| random.normal()).collect();
        assert_eq!(find_period(&noise, 48_000.0), None);
        assert_eq!(find_period(&vec![0.25; 96_000], 48_000.0), None);
        assert_eq!(find_period(&[], 48_000.0), None);
        let mut single = stimulus(Shape::Sweep, 4.0);
        single.periods = 1;
        single.low_hz = 20.0;
        let signal = render(&single).expect("a sweep");
        assert_eq!(find_period(&recording(&signal[..192_000], 0.001), 48_000.0), None);
    }

    #[test]
    fn the_span_is_that_of_the_signal_within_two_blocks() {
        let signal = render(&stimulus(Shape::Sweep, 1.0)).expect("a signal");
        let span = active_span(&recording(&signal, 0.003), 48_000.0).expect("a span");
        assert!(span.start.abs_diff(31_234) <= 960, "{span:?}");
        assert!(span.end.abs_diff(31_234 + signal.len()) <= 960, "{span:?}");
    }
}
