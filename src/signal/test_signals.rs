//! Rendering of test signals from their description.
//!
//! Periodic signals repeat exactly, sample by sample, so that whatever differs between two periods of a recording is noise.
//! A period is a whole number of cycles of both mains frequencies, so that hum stays on its own lines. The first period
//! fades in (it is for settling); after the last one the signal runs on for [`RUN_ON_S`] and fades out there, so that
//! every period but the first is whole. Multisine: phases start from the cumulated power (Schroeder, IEEE Trans. IT-16,
//! 1970), then the crest is lowered by clipping and restoring the amplitudes.

use super::pilots;
use super::stimulus::{travel_factor, Shape, Stimulus};
use super::sweep::Sweep;
use crate::math::fft::{self, Complex64};
use crate::math::random::Random;
use std::f64::consts::PI;
use thiserror::Error;

/// Length of the fades.
pub const FADE_S: f64 = 0.010;
/// How long a periodic signal runs on after its last period, the fade included.
pub const RUN_ON_S: f64 = 0.080;
/// Up to here, the range of resonances, all lines of a multisine have the same amplitude; above, where an octave holds
/// more and more lines, the amplitude falls. Leaving lines out there instead would cost 6 dB of crest: a few hundred
/// phases cannot level a signal of 100 000 samples.
const LEVEL_UP_TO_HZ: f64 = 200.0;
/// Exponent of the fall: a third of the power stays below 200 Hz, and an octave loses only 1.5 dB on the one below.
const FALL: f64 = 0.75;
/// Rounds of clipping; the crest gains little after that.
const CREST_ROUNDS: usize = 10;
/// Clipping level over the root mean square.
const CLIP_AT: f64 = 1.45;
/// Seeded part of the starting phases, in radian.
const PHASE_DITHER: f64 = 0.3;
/// Longest signal rendered, in samples: ten minutes at 192 kHz.
const SAMPLES_AT_MOST: f64 = 1.2e8;

/// Why a description gives no signal; names the field and what is wanted.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum StimulusError {
    /// Rate outside what a sound card can have, or no whole number of samples a period.
    #[error("rate_hz is {0}; wanted: a whole number from 4000 to 768000")]
    Rate(f64),
    /// Period that is no whole number of both mains cycles.
    #[error("period_s is {0}; wanted: 1, 2 or 4")]
    Period(f64),
    /// No period, or too many.
    #[error("periods is {0}; wanted: at least 1 (6 with marks), and no more than ten minutes in all")]
    Periods(u32),
    /// Band that is empty, reversed or above half the rate.
    #[error("low_hz is {low_hz} and high_hz is {high_hz}; wanted: 1 ≤ low < high ≤ {highest_hz}")]
    Band {
        /// Low end given.
        low_hz: f64,
        /// High end given.
        high_hz: f64,
        /// Highest frequency allowed at this rate.
        highest_hz: f64,
    },
    /// Shape that no driver has.
    #[error(
        "travel_shape holds {0}; wanted: a resonance in Hz and its Q without and with the resistor, 0.01 to 10000"
    )]
    Travel(f64),
    /// Level above full scale or not a number.
    #[error("peak_dbfs is {0}; wanted: -120 to 0")]
    Level(f64),
}

/// Samples of one period.
pub fn period_samples(stimulus: &Stimulus) -> usize {
    (stimulus.period_s * stimulus.rate_hz).round() as usize
}

/// The whole signal, fades included; full scale is ±1. Periodic shapes are `periods` × period + [`RUN_ON_S`] long,
/// tone and silence `periods` × period.
///
/// # Errors
/// [`StimulusError`] names the field that cannot be.
pub fn render(stimulus: &Stimulus) -> Result<Vec<f64>, StimulusError> {
    check(stimulus)?;
    let total = period_samples(stimulus) * stimulus.periods as usize;
    let mut samples = match stimulus.shape {
        Shape::Silence => return Ok(vec![0.0; total]),
        Shape::Tone => {
            (0..total).map(|n| (2.0 * PI * (stimulus.low_hz * n as f64 / stimulus.rate_hz).fract()).sin()).collect()
        }
        Shape::MarkedMultisine => {
            let half =
                Stimulus { shape: Shape::Multisine, peak_dbfs: 0.0, periods: stimulus.periods / 2, ..stimulus.clone() };
            pilots::marked(&render(&half)?, stimulus.rate_hz)
        }
        Shape::Sweep | Shape::Multisine | Shape::Pulse => {
            let period = one_period(stimulus)?;
            let run_on = (RUN_ON_S * stimulus.rate_hz) as usize;
            period.iter().copied().cycle().take(total + run_on).collect::<Vec<f64>>()
        }
    };
    let gain = 10.0_f64.powf(stimulus.peak_dbfs / 20.0);
    samples.iter_mut().for_each(|s| *s *= gain);
    fade(&mut samples, (FADE_S * stimulus.rate_hz) as usize);
    Ok(samples)
}

/// One period with its peak at 1 (all zero for silence), to be repeated without a seam.
///
/// # Errors
/// As [`render`].
pub fn one_period(stimulus: &Stimulus) -> Result<Vec<f64>, StimulusError> {
    check(stimulus)?;
    let n = period_samples(stimulus);
    Ok(match stimulus.shape {
        Shape::Silence => vec![0.0; n],
        Shape::Tone => {
            (0..n).map(|i| (2.0 * PI * (stimulus.low_hz * i as f64 / stimulus.rate_hz).fract()).sin()).collect()
        }
        Shape::Sweep => {
            let sweep = Sweep::repeating(stimulus.low_hz, stimulus.high_hz, stimulus.period_s);
            (0..n).map(|i| sweep.at(i as f64 / stimulus.rate_hz)).collect()
        }
        Shape::Multisine | Shape::MarkedMultisine => {
            let plain = multisine(n, &excited_lines(stimulus), stimulus);
            match stimulus.travel_shape {
                Some(shape) => shaped(&plain, shape, stimulus.period_s),
                None => plain,
            }
        }
        Shape::Pulse => pulse(n, stimulus),
    })
}

/// Lines (multiples of 1/period) on which the signal has its power: every line of the band for a sweep, the chosen ones
/// for a multisine, the nearest one for a tone, none for silence.
pub fn excited_lines(stimulus: &Stimulus) -> Vec<usize> {
    let period = stimulus.period_s;
    let first = (stimulus.low_hz * period).ceil() as usize;
    let last = (stimulus.high_hz * period).floor() as usize;
    match stimulus.shape {
        Shape::Silence => Vec::new(),
        Shape::Tone => vec![(stimulus.low_hz * period).round() as usize],
        // Up to the first null of a raised cosine.
        Shape::Pulse => (1..=(2.0 * stimulus.low_hz * period) as usize).collect(),
        Shape::Sweep => (first..=last).collect(),
        Shape::Multisine | Shape::MarkedMultisine => {
            (first..=last).filter(|&line| line % 2 == 1 && !is_mains_line(line, period)).collect()
        }
    }
}

/// True where hum shows itself: multiples of 50 and 60 Hz.
pub fn is_mains_line(line: usize, period_s: f64) -> bool {
    let frequency_hz = line as f64 / period_s;
    line > 0 && (frequency_hz % 50.0 == 0.0 || frequency_hz % 60.0 == 0.0)
}

/// Raised-cosine fades at both ends.
pub fn fade(samples: &mut [f64], length: usize) {
    let length = length.min(samples.len() / 2);
    let total = samples.len();
    for i in 0..length {
        let gain = 0.5 - 0.5 * (PI * (i as f64 + 0.5) / length as f64).cos();
        samples[i] *= gain;
        samples[total - 1 - i] *= gain;
    }
}

fn check(s: &Stimulus) -> Result<(), StimulusError> {
    if !(4000.0..=768_000.0).contains(&s.rate_hz) || s.rate_hz.fract() != 0.0 {
        return Err(StimulusError::Rate(s.rate_hz));
    }
    if ![1.0, 2.0, 4.0].contains(&s.period_s) {
        return Err(StimulusError::Period(s.period_s));
    }
    let marked = s.shape == Shape::MarkedMultisine && s.periods as usize != 2 * pilots::HALF_PERIODS;
    if s.periods == 0 || marked || f64::from(s.periods) * s.period_s * s.rate_hz > SAMPLES_AT_MOST {
        return Err(StimulusError::Periods(s.periods));
    }
    if !(-120.0..=0.0).contains(&s.peak_dbfs) {
        return Err(StimulusError::Level(s.peak_dbfs));
    }
    if let Some(wrong) = s.travel_shape.iter().flatten().find(|x| !(0.01..=1e4).contains(*x)) {
        return Err(StimulusError::Travel(*wrong));
    }
    let highest_hz = 0.5 * s.rate_hz;
    let band = Err(StimulusError::Band { low_hz: s.low_hz, high_hz: s.high_hz, highest_hz });
    let inside = |f: f64| (1.0..=highest_hz).contains(&f);
    match s.shape {
        Shape::Silence => Ok(()),
        Shape::Tone | Shape::Pulse if inside(s.low_hz) => Ok(()),
        // Two lines at least, or there is nothing to sweep over.
        Shape::Sweep | Shape::Multisine | Shape::MarkedMultisine
            if inside(s.low_hz) && inside(s.high_hz) && (s.high_hz - s.low_hz) * s.period_s >= 4.0 =>
        {
            Ok(())
        }
        _ => band,
    }
}

/// Where in its period the pulse begins: behind the fade.
const PULSE_AT_S: f64 = 0.2;

/// A raised cosine of one cycle of the low frequency, peak at 1.
fn pulse(n: usize, stimulus: &Stimulus) -> Vec<f64> {
    let at = |i: usize| (i as f64 / stimulus.rate_hz - PULSE_AT_S) * stimulus.low_hz;
    (0..n).map(at).map(|c| if (0.0..1.0).contains(&c) { 0.5 - 0.5 * (2.0 * PI * c).cos() } else { 0.0 }).collect()
}

/// Amplitude of a multisine's line against that of the lowest.
fn amplitude(line: usize, period_s: f64) -> f64 {
    (LEVEL_UP_TO_HZ * period_s / line as f64).min(1.0).powf(FALL)
}

/// Sines on the given lines, phases chosen for a low crest, peak at 1.
fn multisine(n: usize, lines: &[usize], stimulus: &Stimulus) -> Vec<f64> {
    let mut spectrum = starting_phases(n, lines, stimulus);
    let mut signal = fft::real_inverse(&spectrum, n);
    let mut best = normalised(&signal);
    let mut least_crest = crest(&signal);
    for _ in 0..CREST_ROUNDS {
        let limit = CLIP_AT * rms(&signal);
        signal.iter_mut().for_each(|s| *s = s.clamp(-limit, limit));
        let clipped = fft::real_forward(&signal);
        for &line in lines {
            spectrum[line] = clipped[line] * (spectrum[line].norm() / clipped[line].norm().max(f64::MIN_POSITIVE));
        }
        signal = fft::real_inverse(&spectrum, n);
        let crest = crest(&signal);
        if crest < least_crest {
            least_crest = crest;
            best = normalised(&signal);
        }
    }
    best
}

/// The same phases, line by line; only amplitudes change, so that a take of it can be laid over one of the plain signal.
fn shaped(period: &[f64], shape: [f64; 3], period_s: f64) -> Vec<f64> {
    let mut lines = fft::real_forward(period);
    lines.iter_mut().enumerate().for_each(|(k, line)| *line *= travel_factor(shape, k as f64 / period_s));
    fft::real_inverse(&lines, period.len())
}

/// Group delay grows with the power so far, over half a period: odd lines alone repeat (inverted) after that.
fn starting_phases(n: usize, lines: &[usize], stimulus: &Stimulus) -> Vec<Complex64> {
    let mut spectrum = vec![Complex64::default(); n / 2 + 1];
    let mut random = Random::new(u64::from(stimulus.seed));
    let power: f64 = lines.iter().map(|&line| amplitude(line, stimulus.period_s).powi(2)).sum();
    let (mut phase, mut so_far, mut previous) = (0.0, 0.0, 0);
    for &line in lines {
        let length = amplitude(line, stimulus.period_s);
        phase -= PI * (line - previous) as f64 * so_far / power;
        so_far += length * length;
        previous = line;
        spectrum[line] = Complex64::from_polar(length, phase + random.between(-PHASE_DITHER, PHASE_DITHER));
    }
    spectrum
}

fn peak(signal: &[f64]) -> f64 {
    signal.iter().fold(0.0, |peak, s| peak.max(s.abs()))
}

fn rms(signal: &[f64]) -> f64 {
    (signal.iter().map(|s| s * s).sum::<f64>() / signal.len() as f64).sqrt()
}

/// Peak over root mean square.
fn crest(signal: &[f64]) -> f64 {
    peak(signal) / rms(signal)
}

fn normalised(signal: &[f64]) -> Vec<f64> {
    let scale = 1.0 / peak(signal).max(f64::MIN_POSITIVE);
    signal.iter().map(|s| s * scale).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stimulus(shape: Shape) -> Stimulus {
        Stimulus {
            shape,
            rate_hz: 48_000.0,
            period_s: 1.0,
            periods: 3,
            low_hz: 5.0,
            high_hz: 20_000.0,
            peak_dbfs: -6.0,
            seed: 1,
            travel_shape: None,
        }
    }

    #[test]
    fn periods_after_the_first_are_equal_and_the_run_on_fades() {
        for shape in [Shape::Sweep, Shape::Multisine] {
            let s = render(&stimulus(shape)).expect("a signal");
            assert_eq!(s.len(), 3 * 48_000 + 3840);
            assert_eq!(s[48_000..96_000], s[96_000..144_000]);
            assert_eq!(s[1000..48_000], s[49_000..96_000]);
            assert!(s[0].abs() < 1e-3 && s[s.len() - 1].abs() < 1e-3);
            // −6 dB is 0.501187.
            assert!((peak(&s) - 0.501_187).abs() < 2e-4, "{}", peak(&s));
        }
    }

    #[test]
    fn a_multisine_has_power_on_its_lines_only_and_a_low_crest() {
        let s = stimulus(Shape::Multisine);
        let lines = excited_lines(&s);
        let period = one_period(&s).expect("a period");
        assert!(lines.iter().all(|k| k % 2 == 1 && k % 50 != 0 && k % 60 != 0));
        // Every odd line of the dense range is there.
        assert!((9..200).step_by(2).all(|k| lines.contains(&k)));
        let spectrum = fft::real_forward(&period);
        let lowest = spectrum[lines[0]].norm();
        for (k, value) in spectrum.iter().enumerate() {
            let expected = if lines.binary_search(&k).is_ok() { lowest * amplitude(k, 1.0) } else { 0.0 };
            // What is left is rounding of a transform of 48000 values.
            assert!((value.norm() - expected).abs() < 1e-9 * lowest, "line {k}");
        }
        // A single sine has 1.414; random phases would give 3.5 and more for this many lines.
        assert!(crest(&period) < 1.6, "crest {}", crest(&period));
    }

    /// At its resonance a shaped signal stands at the ratio of the Q's, far above it where it was; phases stay. It may not
    /// grow past what the unshaped one is by a decibel, which is the room that whoever plays it must leave.
    #[test]
    fn a_shaped_multisine_keeps_its_phases_and_its_peak() {
        let s = Stimulus { high_hz: 1000.0, ..stimulus(Shape::Multisine) };
        let plain = fft::real_forward(&one_period(&s).expect("a period"));
        for shape in [[41.0, 0.4, 0.9], [27.0, 0.25, 2.0], [101.0, 0.5, 0.8]] {
            let period = one_period(&Stimulus { travel_shape: Some(shape), ..s.clone() }).expect("a period");
            let ratio = |k: usize| fft::real_forward(&period)[k] / plain[k];
            let at = shape[0] as usize;
            assert!((ratio(at).re - shape[1] / shape[2]).abs() < 1e-9 && ratio(at).im.abs() < 1e-9, "{:?}", ratio(at));
            // (x/Q)²/2(1 − x²)² of 1000 Hz at 100 Hz and Q of ½: 2 %.
            assert!((ratio(999).re - 1.0).abs() < 0.025, "{:?}", ratio(999));
            assert!(peak(&period) < 1.122, "{}", peak(&period));
        }
        let absurd = Stimulus { travel_shape: Some([40.0, 0.0, 1.0]), ..s };
        assert_eq!(render(&absurd), Err(StimulusError::Travel(0.0)));
    }

    #[test]
    fn a_sweep_has_the_crest_of_a_sine_and_fills_its_band() {
        let period = one_period(&stimulus(Shape::Sweep)).expect("a period");
        // The mean of sin² misses ½ by at most ∫cos 2φ/(2T) ≈ 1/(8π f₁T) = 0.8 % (f₁T = 5): 0.8 % of the crest as well.
        assert!((crest(&period) / 2.0_f64.sqrt() - 1.0).abs() < 0.008, "crest {}", crest(&period));
        let spectrum = fft::real_forward(&period);
        // Power falls by 3 dB an octave: |X|²·f is level within the ripple of a sweep of one second (2 dB, well inside).
        let level =
            |hz: usize| (hz..hz + hz / 8).map(|k| spectrum[k].norm_sqr() * k as f64).sum::<f64>() / (hz / 8) as f64;
        assert!((10.0 * (level(160) / level(5000)).log10()).abs() < 1.0);
    }

    #[test]
    fn tone_and_silence() {
        let mut tone = stimulus(Shape::Tone);
        tone.low_hz = 100.0;
        let s = render(&tone).expect("a tone");
        assert!((s[48_000 + 120] - 0.501_187).abs() < 1e-6);
        assert!(render(&stimulus(Shape::Silence)).expect("silence").iter().all(|v| *v == 0.0));
    }

    #[test]
    fn impossible_descriptions_are_named() {
        let with = |change: fn(&mut Stimulus)| {
            let mut s = stimulus(Shape::Sweep);
            change(&mut s);
            render(&s).expect_err("must not render")
        };
        assert!(matches!(with(|s| s.rate_hz = 0.0), StimulusError::Rate(_)));
        assert!(matches!(with(|s| s.rate_hz = f64::NAN), StimulusError::Rate(_)));
        assert!(matches!(with(|s| s.period_s = 1.01), StimulusError::Period(_)));
        assert!(matches!(with(|s| s.periods = 0), StimulusError::Periods(0)));
        assert!(matches!(with(|s| s.periods = u32::MAX), StimulusError::Periods(_)));
        assert!(matches!(with(|s| s.peak_dbfs = 1.0), StimulusError::Level(_)));
        assert!(matches!(with(|s| s.high_hz = 30_000.0), StimulusError::Band { .. }));
        assert!(matches!(with(|s| s.low_hz = 25_000.0), StimulusError::Band { .. }));
        assert!(with(|s| s.low_hz = -3.0).to_string().contains("low_hz is -3"));
    }
}
