//! Hum: lines at multiples of 50 or 60 Hz that stand out from their surroundings.
//!
//! In a repeated signal the even lines (a multisine leaves them empty) or the smooth spectrum of a sweep are the
//! surroundings; in any other recording the spectrum of the whole take under a Hann window is.

use super::periods::Periods;
use crate::math::decimate::thinned;
use crate::math::fft;
use serde::{Deserialize, Serialize};

/// Multiples of the mains frequency looked at.
const MULTIPLES: usize = 10;
/// A line of hum stands at least so many times above its surroundings: 9 dB in a recording (the largest of many noise
/// lines is 6 dB above their mean), 6 dB above the largest of
/// eight lines in averaged periods (three times the noise: by chance once in 10⁴ lines; a sweep ripples by 3 dB).
const STANDS_OUT: f64 = 2.8;
const STANDS_OUT_OF_PERIODS: f64 = 2.0;
/// Mains frequencies wander by this much.
const WANDER_HZ: f64 = 0.25;
/// Surroundings of a line in a whole take.
const AROUND_HZ: (f64, f64) = (0.8, 3.2);
/// Rate that is enough for the highest multiple (600 Hz, well below the fold).
const SEARCH_RATE_HZ: f64 = 3000.0;
/// Shortest take in which a line can be told from its surroundings.
const SHORTEST_S: f64 = 2.0;

/// Hum in one channel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Hum {
    /// Mains frequency, 50 or 60 Hz.
    pub mains_hz: f64,
    /// Frequency of the strongest line.
    pub frequency_hz: f64,
    /// Root mean square of all lines that stand out, full scale being 1.
    pub rms: f64,
}

/// Hum on a channel (counted from 0) of a repeated signal. Needs periods that are whole cycles of 50 and 60 Hz.
pub fn in_periods(periods: &Periods, channel: usize) -> Option<Hum> {
    let period_s = periods.samples as f64 / periods.rate_hz;
    if (period_s * 10.0 - (period_s * 10.0).round()).abs() > 1e-9 {
        return None;
    }
    strongest(STANDS_OUT_OF_PERIODS, |frequency_hz| {
        let line = (frequency_hz * period_s).round() as usize;
        // Lines of the same parity: a multisine leaves all of them empty, a sweep fills all of them alike.
        let around: Vec<f64> = [8, 6, 4, 2]
            .iter()
            .flat_map(|d| [line.checked_sub(*d), Some(line + d)])
            .flatten()
            .filter(|l| *l > 0 && *l < periods.line_count())
            .map(|l| periods.mean(channel, l).norm())
            .collect();
        let here = if line < periods.line_count() { periods.mean(channel, line).norm() } else { 0.0 };
        (here, around.iter().copied().fold(0.0, f64::max))
    })
}

/// Hum in any recording of two seconds or more.
pub fn in_recording(signal: &[f64], rate_hz: f64) -> Option<Hum> {
    if (signal.len() as f64) < SHORTEST_S * rate_hz {
        return None;
    }
    let times = (rate_hz / SEARCH_RATE_HZ).log2().floor().max(0.0) as u32;
    let (signal, rate_hz) = (thinned(signal, times), rate_hz / f64::from(1_u32 << times));
    let n = signal.len();
    let mean = signal.iter().sum::<f64>() / n as f64;
    let size = fft::fast_length(n);
    let circle = fft::circle(2 * n);
    let mut windowed: Vec<f64> =
        signal.iter().enumerate().map(|(i, s)| (s - mean) * (0.5 - 0.5 * circle(2 * i + 1).re)).collect();
    windowed.resize(size, 0.0);
    let spectrum = fft::real_forward(&windowed);
    let per_hz = size as f64 / rate_hz;
    // A sine of amplitude A gives A·n/4 under a Hann window.
    let peak = |from_hz: f64, to_hz: f64| {
        let last = ((to_hz * per_hz).floor() as usize).min(spectrum.len() - 1);
        let first = ((from_hz * per_hz).ceil() as usize).min(last);
        spectrum[first..=last].iter().map(|z| z.norm()).fold(0.0, f64::max) * 4.0 / n as f64
    };
    strongest(STANDS_OUT, |f| {
        let here = peak(f - WANDER_HZ, f + WANDER_HZ);
        // The geometric mean of both sides follows the slope of a resonance nearby.
        let around = peak(f - AROUND_HZ.1, f - AROUND_HZ.0) * peak(f + AROUND_HZ.0, f + AROUND_HZ.1);
        (here, around.sqrt())
    })
}

/// Sums the multiples that stand out, for both mains frequencies, and gives the stronger sum. `look` gives the amplitude
/// at a frequency and that of its surroundings.
fn strongest(stands_out: f64, look: impl Fn(f64) -> (f64, f64)) -> Option<Hum> {
    let at = |mains_hz: f64| {
        let lines = (1..=MULTIPLES).filter_map(|m| {
            let frequency_hz = mains_hz * m as f64;
            let (here, around) = look(frequency_hz);
            (here > stands_out * around && here > 0.0).then_some((frequency_hz, here))
        });
        let lines: Vec<(f64, f64)> = lines.collect();
        let top = lines.iter().copied().fold((0.0, 0.0), |best, next| if next.1 > best.1 { next } else { best });
        let rms = (lines.iter().map(|(_, a)| 0.5 * a * a).sum::<f64>()).sqrt();
        Hum { mains_hz, frequency_hz: top.0, rms }
    };
    let (a, b) = (at(50.0), at(60.0));
    let stronger = if b.rms > a.rms { b } else { a };
    (stronger.rms > 0.0).then_some(stronger)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::periods::split_known;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::test_signals::render;
    use std::f64::consts::PI;

    fn with_hum(mut signal: Vec<f64>, mains_hz: f64, amplitude: f64) -> Vec<f64> {
        let mut random = Random::new(2);
        for (n, s) in signal.iter_mut().enumerate() {
            let phase = 2.0 * PI * mains_hz * n as f64 / 48_000.0;
            *s += amplitude * (phase.sin() + 0.5 * (3.0 * phase).sin()) + 1e-4 * random.normal();
        }
        signal
    }

    #[test]
    fn hum_is_found_in_a_recording_and_its_size_told() {
        let hum = in_recording(&with_hum(vec![0.0; 200_000], 49.95, 0.01), 48_000.0).expect("hum");
        assert_eq!((hum.mains_hz, hum.frequency_hz), (50.0, 50.0));
        // √(½(1 + ¼)) of 0.01; the scalloping of a Hann window takes 15 % at most.
        assert!(hum.rms < 0.0079 * 1.01 && hum.rms > 0.0079 * 0.85, "{}", hum.rms);
        assert_eq!(in_recording(&with_hum(vec![0.0; 200_000], 60.0, 0.01), 48_000.0).map(|h| h.mains_hz), Some(60.0));
        assert_eq!(in_recording(&with_hum(vec![0.0; 200_000], 50.0, 0.0), 48_000.0), None);
    }

    #[test]
    fn hum_is_found_beside_a_repeated_signal_and_not_where_there_is_none() {
        for shape in [Shape::Sweep, Shape::Multisine] {
            let (low_hz, high_hz) = (5.0, 20_000.0);
            let stimulus = Stimulus {
                shape,
                rate_hz: 48_000.0,
                period_s: 1.0,
                periods: 4,
                low_hz,
                high_hz,
                peak_dbfs: -6.0,
                seed: 1,
                travel_shape: None,
            };
            let signal = render(&stimulus).expect("a signal");
            for amplitude in [0.0, 0.1] {
                let take = with_hum(signal.clone(), 60.0, amplitude);
                let periods = split_known(&[&take], 48_000.0, 0, 48_000).expect("periods");
                let found = in_periods(&periods, 0);
                assert_eq!(found.map(|h| h.mains_hz), (amplitude > 0.0).then_some(60.0), "{shape:?}");
                assert!(in_recording(&signal, 48_000.0).is_none(), "{shape:?}");
            }
        }
    }
}
