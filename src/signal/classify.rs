//! What kind of signal a recording holds, and so which method may read it.
//!
//! Decided on the reference channel, from the signal alone: a tone by the part of its power in one line, a repeated signal
//! by its autocorrelation, stationary noise by its steady level and wide spectrum, a single sweep by a narrow spectrum in
//! each short block that moves through the band. Anything else (speech, music, knocks) is not usable for a ratio.
//! Limits are common practice; the tests hold one good distance to either side.

use super::period_search::{active_span, find_period};
use crate::math::fft::{self, Complex64};
use crate::math::order::ascending;
use crate::math::robust;

/// Kind of a recording.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Repeats itself: read whole periods.
    Periodic {
        /// Length of a period.
        samples: usize,
    },
    /// Runs once through a band: read the whole record.
    SingleSweep,
    /// Steady noise over a wide band: averaged spectra.
    StationaryNoise,
    /// One sine.
    Tone {
        /// Its frequency, to a fraction of a line.
        frequency_hz: f64,
    },
    /// Nothing there.
    Silent,
    /// None of these.
    NotUsable,
}

/// Part of the power within two lines of the strongest one that makes a tone.
const TONE: f64 = 0.98;
/// Short blocks for level and spectrum.
const BLOCK_S: f64 = 0.1;
/// Part of the lines that hold 90 % of a block's power: less is narrow, more is wide.
const NARROW: f64 = 0.08;
const WIDE: f64 = 0.1;
/// Spread of the block levels (robust deviation, in dB) of steady noise.
const STEADY_DB: f64 = 1.0;
/// Part of the steps between blocks in which the spectrum of a sweep moves the same way or stays.
const ONE_WAY: f64 = 0.85;
/// Octaves that a sweep must pass.
const SWEPT_OCTAVES: f64 = 2.0;

/// Kind of a recording from its reference channel.
pub fn classify(signal: &[f64], rate_hz: f64) -> Kind {
    let Some(span) = active_span(signal, rate_hz) else { return Kind::Silent };
    let part = &signal[span];
    if let Some(frequency_hz) = tone(part, rate_hz) {
        return Kind::Tone { frequency_hz };
    }
    if let Some(samples) = find_period(signal, rate_hz) {
        return Kind::Periodic { samples };
    }
    let blocks: Vec<Block> =
        part.chunks_exact(((BLOCK_S * rate_hz) as usize).max(16)).map(|b| block(b, rate_hz)).collect();
    if blocks.len() < 10 {
        return Kind::NotUsable;
    }
    let median = |f: fn(&Block) -> f64| robust::median(&blocks.iter().map(f).collect::<Vec<_>>()).unwrap_or(0.0);
    if median(|b| b.width) < NARROW && sweeps(&blocks) {
        return Kind::SingleSweep;
    }
    let levels: Vec<f64> = blocks.iter().map(|b| b.level_db).collect();
    let unsteady = robust::mad(&levels).unwrap_or(f64::INFINITY) * robust::MAD_TO_SIGMA;
    let outside = robust::outliers(&levels, 6.0, STEADY_DB / 2.0).len();
    if median(|b| b.width) > WIDE && unsteady < STEADY_DB && outside == 0 {
        return Kind::StationaryNoise;
    }
    Kind::NotUsable
}

/// Frequency of the one sine that holds nearly all power.
fn tone(signal: &[f64], rate_hz: f64) -> Option<f64> {
    let n = signal.len().min(1 << 17);
    let middle = (signal.len() - n) / 2;
    let power = powers(&signal[middle..middle + n]);
    let top = (1..power.len()).max_by(|a, b| power[*a].total_cmp(&power[*b]))?;
    let around = top.saturating_sub(2)..(top + 3).min(power.len());
    let near: f64 = power[around.clone()].iter().sum();
    let centre = around.map(|k| k as f64 * power[k]).sum::<f64>() / near;
    (near > TONE * power.iter().sum::<f64>()).then_some(centre * rate_hz / n as f64)
}

/// Powers under a Hann window, without the mean. The window is three lines wide and is laid on the spectrum: line k
/// becomes half of itself less a quarter of either neighbour.
fn powers(samples: &[f64]) -> Vec<f64> {
    let mut lines = fft::real_forward(samples);
    if lines.len() < 2 {
        return vec![0.0; lines.len()];
    }
    lines[0] = Complex64::default();
    let last = lines.len() - 1;
    let mut power = Vec::with_capacity(lines.len());
    // Beyond the ends a real signal's spectrum goes on as its own mirror image.
    power.push((0.5 * lines[1].re).powi(2));
    power.extend(lines.windows(3).map(|z| (z[1] * 0.5 - (z[0] + z[2]) * 0.25).norm_sqr()));
    let beyond = if samples.len() % 2 == 0 { lines[last - 1] } else { lines[last] }.conj();
    power.push((lines[last] * 0.5 - (lines[last - 1] + beyond) * 0.25).norm_sqr());
    power
}

/// Level, centre and width of a short block.
struct Block {
    level_db: f64,
    /// Octaves above 1 Hz of the line below which half of the power lies.
    centre_octaves: f64,
    /// Part of all lines that are needed for 90 % of the power.
    width: f64,
}

fn block(samples: &[f64], rate_hz: f64) -> Block {
    let power = powers(samples);
    let total: f64 = power.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let mut so_far = 0.0;
    let half = power.iter().position(|p| {
        so_far += p;
        so_far >= 0.5 * total
    });
    let mut sorted = power.clone();
    ascending(&mut sorted);
    let mut held = 0.0;
    let needed = sorted.iter().rev().take_while(|p| {
        let more = held < 0.9 * total;
        held += **p;
        more
    });
    let centre_hz = half.unwrap_or(0).max(1) as f64 * rate_hz / samples.len() as f64;
    Block {
        level_db: 10.0 * total.log10(),
        centre_octaves: centre_hz.log2(),
        width: needed.count() as f64 / power.len() as f64,
    }
}

/// True where the centre moves one way through the band.
fn sweeps(blocks: &[Block]) -> bool {
    let steps: Vec<f64> = blocks.windows(2).map(|w| w[1].centre_octaves - w[0].centre_octaves).collect();
    let part = |way: fn(f64) -> bool| steps.iter().filter(|s| way(**s)).count() as f64 / steps.len() as f64;
    let centres = || blocks.iter().map(|b| b.centre_octaves);
    let passed = centres().fold(f64::NEG_INFINITY, f64::max) - centres().fold(f64::INFINITY, f64::min);
    passed >= SWEPT_OCTAVES && part(|s| s >= -0.02).max(part(|s| s <= 0.02)) >= ONE_WAY
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::sweep::Sweep;
    use crate::signal::test_signals::render;

    const RATE_HZ: f64 = 48_000.0;

    fn around(signal: Vec<f64>, noise: f64) -> Vec<f64> {
        let mut random = Random::new(11);
        let mut out = vec![0.0; 20_000];
        out.extend(signal);
        out.resize(out.len() + 15_000, 0.0);
        out.iter_mut().for_each(|s| *s += noise * random.normal());
        out
    }

    #[test]
    fn repeated_signals_and_tones() {
        for (shape, low_hz) in
            [(Shape::Sweep, 5.0), (Shape::Multisine, 5.0), (Shape::Tone, 31.7), (Shape::Tone, 1000.0)]
        {
            let high_hz = 20_000.0;
            let stimulus = Stimulus {
                shape,
                rate_hz: RATE_HZ,
                period_s: 1.0,
                periods: 4,
                low_hz,
                high_hz,
                peak_dbfs: -6.0,
                seed: 1,
                travel_shape: None,
            };
            let kind = classify(&around(render(&stimulus).expect("a signal"), 0.002), RATE_HZ);
            match (shape, kind) {
                (Shape::Tone, Kind::Tone { frequency_hz }) => {
                    assert!((frequency_hz - low_hz).abs() < 0.05, "{frequency_hz}")
                }
                (Shape::Sweep | Shape::Multisine, Kind::Periodic { samples }) => assert_eq!(samples, 48_000),
                other => panic!("{other:?}"),
            }
        }
    }

    #[test]
    fn single_sweeps_up_and_down_exponential_and_linear() {
        let exponential = Sweep { low_hz: 15.0, high_hz: 18_000.0, length_s: 8.0 };
        let up: Vec<f64> = (0..384_000).map(|n| 0.4 * exponential.at(f64::from(n) / RATE_HZ)).collect();
        let down: Vec<f64> = up.iter().rev().copied().collect();
        let linear: Vec<f64> = (0..384_000)
            .map(|n| {
                let t = f64::from(n) / RATE_HZ;
                0.4 * (2.0 * std::f64::consts::PI * (20.0 * t + 0.5 * 2000.0 * t * t)).sin()
            })
            .collect();
        for signal in [up, down, linear] {
            assert_eq!(classify(&around(signal, 0.001), RATE_HZ), Kind::SingleSweep);
        }
    }

    #[test]
    fn white_and_pink_noise_are_stationary() {
        let mut random = Random::new(2);
        let white: Vec<f64> = (0..480_000).map(|_| 0.1 * random.normal()).collect();
        assert_eq!(classify(&around(white, 1e-4), RATE_HZ), Kind::StationaryNoise);
        // Sum of first-order sections a factor of four apart: falls by 3 dB an octave within a ripple of about 1 dB.
        let mut sections = [0.0; 7];
        let pink: Vec<f64> = (0..480_000)
            .map(|_| {
                for (i, s) in sections.iter_mut().enumerate() {
                    let pole = (-2.0 * std::f64::consts::PI * 5.0 * 4.0_f64.powi(i as i32) / RATE_HZ).exp();
                    *s = pole * *s + (1.0 - pole * pole).sqrt() * random.normal();
                }
                0.03 * sections.iter().sum::<f64>()
            })
            .collect();
        assert_eq!(classify(&around(pink, 1e-4), RATE_HZ), Kind::StationaryNoise);
    }

    #[test]
    fn knocks_syllables_and_silence_are_not_usable() {
        let mut random = Random::new(3);
        let knocks: Vec<f64> = (0..240_000)
            .map(|n| {
                let t = f64::from(n) / RATE_HZ % 0.9;
                (-t / 0.08).exp() * 0.3 * (2.0 * std::f64::consts::PI * 28.0 * t).sin()
            })
            .collect();
        // Knocks at exactly equal distance and strength do repeat; by hand they do not.
        let by_hand: Vec<f64> =
            knocks.iter().enumerate().map(|(n, s)| s * [1.0, 0.4, 0.7, 0.9, 0.5, 0.8][n / 43_200]).collect();
        let shifted: Vec<f64> =
            by_hand.iter().enumerate().map(|(n, _)| by_hand[(n + (n / 43_200) * 1700) % 240_000]).collect();
        assert!(matches!(classify(&around(shifted, 1e-4), RATE_HZ), Kind::NotUsable | Kind::Periodic { .. }));
        // Voiced syllables of wandering pitch with pauses.
        let mut phase = 0.0;
        let speech: Vec<f64> = (0..480_000)
            .map(|n| {
                let t = f64::from(n) / RATE_HZ;
                let pitch = 120.0 + 30.0 * (2.1 * t).sin() + 15.0 * (5.3 * t).sin();
                phase += pitch / RATE_HZ;
                let syllable = ((3.7 * t).sin() * (1.3 * t + 0.4).sin()).max(0.0);
                let voice: f64 =
                    (1..20).map(|k| (2.0 * std::f64::consts::PI * phase * f64::from(k)).sin() / f64::from(k)).sum();
                0.2 * syllable * (voice + 0.3 * random.normal())
            })
            .collect();
        assert_eq!(classify(&around(speech, 1e-4), RATE_HZ), Kind::NotUsable);
        assert_eq!(classify(&[0.0; 96_000], RATE_HZ), Kind::Silent);
        assert_eq!(classify(&[], RATE_HZ), Kind::Silent);
    }
}
