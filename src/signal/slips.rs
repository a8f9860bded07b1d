//! Lost or repeated samples in a short play of a known signal, where there are too few periods to outvote the spoiled one.
//!
//! Method: the recording in blocks of an eighth of a period; the delay of each against the known period by circular
//! cross-correlation; blocks one period apart pass the same part of the signal, so what the path does to its phase is the
//! same for both, and their delays may differ only by what was lost between them. A break shows as the same difference in
//! several neighbouring pairs. Valid for signals that stand above the noise of a block; below that nothing is said.

use super::period_search::active_span;
use super::stimulus::{Shape, Stimulus};
use super::test_signals::{one_period, period_samples};
use crate::math::fft::{self, Complex64};

/// Blocks in a period.
const BLOCKS: usize = 8;
/// Height of the correlation's peak over its root mean square below which a block tells no delay: noise alone reaches
/// √(2 ln 48 000) = 4.6 among the lags of one second.
const CLEAR: f64 = 6.0;
/// A tone correlates at every lag, its peak standing √2 above the root mean square: it is clear where the block holds
/// more of it than of anything else.
const CLEAR_TONE: f64 = 0.7;
/// Pairs in a row with one difference. Lost samples give eight (one period), less the block in which they were lost and
/// those that the ends of the recording cut off.
const IN_A_ROW: usize = 3;
/// Smallest jump looked for: the smallest buffer that systems pass on has 64 samples; an unsynchronised clock 1/1000 off
/// slips 48 in a second at 48 kHz, which none does.
const LEAST_SAMPLES: f64 = 64.0;
/// Differences of a row agree within this.
const AGREE_SAMPLES: f64 = 8.0;

/// Where samples were lost (positive) or repeated (negative).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Break {
    /// Seconds from the begin of the recording, within an eighth of a period.
    pub time_s: f64,
    /// Samples lost; for a tone known only up to whole cycles.
    pub samples: f64,
}

/// Looks for a break in what was recorded of `stimulus`. None where there is none, or where the signal does not tell.
pub fn find_break(recording: &[f64], stimulus: &Stimulus) -> Option<Break> {
    let period = period_samples(stimulus);
    let span = active_span(recording, stimulus.rate_hz)?;
    let block = period / BLOCKS;
    if block == 0 || stimulus.shape == Shape::Silence {
        return None;
    }
    let played = one_period(stimulus).ok()?;
    let known =
        Known { spectrum: fft::real_forward(&played), power: power(&played), tone: stimulus.shape == Shape::Tone };
    let starts: Vec<usize> = (span.start..(span.end + 1).saturating_sub(block)).step_by(block).collect();
    let delays: Vec<Option<f64>> =
        starts.iter().map(|s| known.delay(&recording[*s..*s + block], *s % period, period)).collect();
    let scale = Scale::of(stimulus, period);
    let pairs = delays.iter().zip(delays.iter().skip(BLOCKS));
    let jumps: Vec<Option<f64>> = pairs.map(|(a, b)| Some(scale.difference((*b)? - (*a)?))).collect();
    let same = |w: &&[Option<f64>]| {
        let Some(first) = w[0].filter(|j| j.abs() >= scale.least) else { return false };
        w.iter().all(|j| j.is_some_and(|j| (j - first).abs() <= scale.agree))
    };
    let at = jumps.windows(IN_A_ROW).position(|w| same(&w))?;
    // The first pair whose later block lies behind the break; where the row begins with the recording, it lies earlier.
    let time_s = (starts[at + BLOCKS] as f64) / stimulus.rate_hz;
    // A recording that lost samples comes too early: its delay falls.
    Some(Break { time_s, samples: -jumps[at]? })
}

/// How differences of delays are read.
struct Scale {
    /// A delay comes back after so many samples.
    turn: f64,
    least: f64,
    agree: f64,
}

impl Scale {
    /// A tone is the same after every cycle: a jump counts from an eighth of a cycle on.
    fn of(stimulus: &Stimulus, period: usize) -> Scale {
        match stimulus.shape {
            Shape::Tone => {
                let turn = stimulus.rate_hz / stimulus.low_hz;
                Scale { turn, least: turn / 8.0, agree: turn / 16.0 }
            }
            _ => Scale { turn: period as f64, least: LEAST_SAMPLES, agree: AGREE_SAMPLES },
        }
    }

    fn difference(&self, delays: f64) -> f64 {
        delays - (delays / self.turn).round() * self.turn
    }
}

/// The signal that was played.
struct Known {
    spectrum: Vec<Complex64>,
    /// Mean square.
    power: f64,
    tone: bool,
}

impl Known {
    /// Delay of a block that begins `place` samples into a period of the clock; none where no peak is clear.
    fn delay(&self, block: &[f64], place: usize, period: usize) -> Option<f64> {
        let mean = block.iter().sum::<f64>() / block.len() as f64;
        let mut padded = vec![0.0; period];
        for (i, s) in block.iter().enumerate() {
            padded[(place + i) % period] = s - mean;
        }
        let cross: Vec<Complex64> =
            fft::real_forward(&padded).iter().zip(&self.spectrum).map(|(x, p)| x * p.conj()).collect();
        let correlation = fft::real_inverse(&cross, period);
        let peak = (0..period).fold(0, |best, n| if correlation[n] > correlation[best] { n } else { best });
        let clear = if self.tone {
            let all = (power(&padded) * period as f64 * self.power * block.len() as f64).sqrt();
            correlation[peak] > CLEAR_TONE * all
        } else {
            correlation[peak] > CLEAR * power(&correlation).sqrt()
        };
        clear.then_some(peak as f64)
    }
}

/// Mean square.
fn power(samples: &[f64]) -> f64 {
    samples.iter().map(|s| s * s).sum::<f64>() / samples.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::test_signals::render;

    const RATE_HZ: f64 = 48_000.0;

    fn stimulus(shape: Shape, low_hz: f64) -> Stimulus {
        let high_hz = if shape == Shape::Tone { low_hz } else { 20_000.0 };
        Stimulus {
            shape,
            rate_hz: RATE_HZ,
            period_s: 1.0,
            periods: 3,
            low_hz,
            high_hz,
            peak_dbfs: -30.0,
            seed: 1,
            travel_shape: None,
        }
    }

    /// A quarter of a second of silence, the signal, silence again; noise; `lost` samples left out at `at_s`.
    fn recorded(s: &Stimulus, noise: f64, lost: isize, at_s: f64, seed: u64) -> Vec<f64> {
        let mut random = Random::new(seed);
        let mut all = vec![0.0; 12_000];
        all.extend(render(s).expect("a stimulus"));
        all.extend(vec![0.0; 24_000]);
        let at = (at_s * RATE_HZ) as usize;
        if lost > 0 {
            all.drain(at..at + lost as usize);
        } else {
            let again = all[at - lost.unsigned_abs()..at].to_vec();
            all.splice(at..at, again);
        }
        all.iter().map(|v| v + noise * random.normal()).collect()
    }

    #[test]
    fn lost_and_repeated_buffers_are_found_wherever_they_lie() {
        for shape in [Shape::Multisine, Shape::Sweep] {
            let s = stimulus(shape, 5.0);
            for (lost, at_s) in [(1024, 1.6), (128, 1.4), (-480, 2.1), (4096, 2.4), (512, 1.9)] {
                let found = find_break(&recorded(&s, 3e-4, lost, at_s, 7), &s);
                let found = found.unwrap_or_else(|| panic!("{shape:?}: {lost} at {at_s} s not seen"));
                assert!((found.samples - lost as f64).abs() <= AGREE_SAMPLES, "{shape:?}: {found:?} for {lost}");
            }
        }
    }

    #[test]
    fn a_tone_that_jumps_is_found() {
        for (hz, lost) in [(1010.0, 1024), (40.0, 1024), (40.0, 441)] {
            let s = stimulus(Shape::Tone, hz);
            assert!(find_break(&recorded(&s, 3e-5, lost, 1.6, 3), &s).is_some(), "{hz} Hz, {lost}");
        }
    }

    #[test]
    fn noise_weak_signals_and_whole_takes_show_no_break() {
        for shape in [Shape::Multisine, Shape::Sweep] {
            let s = stimulus(shape, 5.0);
            for (noise, seed) in [(0.0, 1), (1e-4, 2), (1e-3, 3), (1e-2, 4), (0.1, 5), (0.1, 6)] {
                assert_eq!(find_break(&recorded(&s, noise, 0, 1.0, seed), &s), None, "{shape:?} {noise}");
            }
        }
        for hz in [1010.0, 40.0] {
            let s = stimulus(Shape::Tone, hz);
            assert_eq!(find_break(&recorded(&s, 1e-4, 0, 1.0, 1), &s), None);
        }
        assert_eq!(find_break(&[0.0; 1000], &stimulus(Shape::Multisine, 5.0)), None);
    }
}
