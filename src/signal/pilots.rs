//! Marked signals: a coded mark before, between and after two halves of a repeated signal.
//!
//! Where two takes are compared, nothing but the signal itself shows whether samples were lost in one of them. Each mark is
//! noise of 400 Hz to 4 kHz with a seed of its own, so that none can be taken for another however long the audio path
//! delays; it is found by its matched filter, anywhere in the take. The marks' distances are then known to the sample:
//! a take in which they are not what was played lost or repeated some, and is void.
//! A code of 0.2 s and 3.6 kHz has 1440 degrees of freedom: strangers agree to 1/√1440 = 0.026 (one deviation), a mark that
//! came through a driver or a microphone to 0.7 and more.

use super::notice::{Code, Notice};
use super::take::Take;
use super::test_signals::{fade, FADE_S, RUN_ON_S};
use crate::math::random::Random;
use crate::math::{decimate, fft};
use std::f64::consts::TAU;
use std::ops::Range;

/// Periods of a half, the settling one included. Fixed, so that a take tells its period by itself.
pub const HALF_PERIODS: usize = 3;
/// Marks of a signal.
pub const MARKS: usize = 3;
/// Length of a mark.
const MARK_S: f64 = 0.2;
/// Silence on either side of a half, in which a driver rings out.
const GAP_S: f64 = 0.15;
/// What marks, gaps and run-ons add to the length of a signal.
pub const AROUND_S: f64 = MARKS as f64 * MARK_S + 2.0 * (2.0 * GAP_S + RUN_ON_S);
/// Band of the marks: every driver and microphone has it, and hum and rumble are not in it.
const BAND_HZ: (f64, f64) = (400.0, 4000.0);
/// Agreement with the code from which on it is the mark: 15 deviations of chance.
const AGREES: f64 = 0.4;
/// Rate at which the search runs.
const SEARCH_RATE_HZ: f64 = 12_000.0;
/// Distances are right within this many samples; a lost buffer is 64 and more, two clocks of 10 ppm drift apart by 4.
const SLACK_SAMPLES: f64 = 1.5;

/// Samples of mark, gap and run-on at a rate.
struct Lengths {
    mark: usize,
    gap: usize,
    run_on: usize,
}

fn lengths(rate_hz: f64) -> Lengths {
    let samples = |seconds: f64| (seconds * rate_hz).round() as usize;
    Lengths { mark: samples(MARK_S), gap: samples(GAP_S), run_on: (RUN_ON_S * rate_hz) as usize }
}

/// A mark's samples, peak 1.
pub fn mark(number: usize, rate_hz: f64) -> Vec<f64> {
    let n = lengths(rate_hz).mark;
    let mut random = Random::new(0x6d61_726b + number as u64);
    let mut lines = vec![fft::Complex64::default(); n / 2 + 1];
    // A line is 1/0.2 s = 5 Hz at every rate, so the same code comes out.
    for (k, line) in lines.iter_mut().enumerate().skip((BAND_HZ.0 * MARK_S) as usize) {
        if k as f64 <= BAND_HZ.1 * MARK_S {
            *line = fft::Complex64::from_polar(1.0, TAU * random.uniform());
        }
    }
    let mut samples = fft::real_inverse(&lines, n);
    fade(&mut samples, (FADE_S * rate_hz) as usize);
    let peak = samples.iter().fold(0.0f64, |p, s| p.max(s.abs())).max(f64::MIN_POSITIVE);
    samples.iter_mut().for_each(|s| *s /= peak);
    samples
}

/// Marks around two equal halves; `half` runs on by [`RUN_ON_S`] after its last period.
pub fn marked(half: &[f64], rate_hz: f64) -> Vec<f64> {
    let silence = vec![0.0; lengths(rate_hz).gap];
    let mut out = mark(0, rate_hz);
    for number in 1..MARKS {
        for part in [&silence, half, &silence, &mark(number, rate_hz)] {
            out.extend_from_slice(part);
        }
    }
    out
}

/// A take without its marks.
#[derive(Clone, Debug, PartialEq)]
pub struct Unmarked {
    /// The first half whole, the second without its settling period, joined in step; all channels alike.
    pub take: Take,
    /// Length of a period in samples.
    pub period: usize,
}

/// The repeated signal of a marked take without its marks. None where the take bears no marks (a recording from elsewhere). `channel`
/// counts from 1.
///
/// # Errors
/// A [`Notice`] of lost samples where marks are missing or not at their distances.
pub fn unmarked(take: &Take, channel: usize) -> Result<Option<Unmarked>, Box<Notice>> {
    let rate_hz = take.rate_hz();
    let found = find(take.channel(channel).unwrap_or_default(), rate_hz);
    let heard = found.iter().flatten().count();
    let [Some(first), Some(second), Some(third)] = found else {
        // One alone is chance or the rest of something else.
        return match heard {
            0 | 1 => Ok(None),
            _ => Err(Box::new(Notice::new(Code::Gap, &[("marks_found", heard as f64)]))),
        };
    };
    let l = lengths(rate_hz);
    let around = (l.mark + 2 * l.gap + l.run_on) as f64;
    let halves = [second - first - around, third - second - around];
    // Periods are whole seconds.
    let unit = rate_hz * HALF_PERIODS as f64;
    let whole = (halves[0] / unit).round() * unit;
    let worst = halves.map(|h| h - whole).into_iter().fold(0.0f64, |w, d| if d.abs() > w.abs() { d } else { w });
    if worst.abs() > SLACK_SAMPLES || whole < unit {
        return Err(Box::new(Notice::new(Code::Gap, &[("mark_moved_samples", worst)])));
    }
    let (whole, period) = (whole as usize, whole as usize / HALF_PERIODS);
    let start = |mark: f64| mark.round() as usize + l.mark + l.gap;
    let (one, two) = (start(first), start(second));
    let parts = (one..one + whole, two + period..two + whole + l.run_on);
    Ok(joined(take, &parts).map(|take| Unmarked { take, period }))
}

fn joined(take: &Take, (first, second): &(Range<usize>, Range<usize>)) -> Option<Take> {
    let cut = |c: &Vec<f64>| Some([c.get(first.clone())?, c.get(second.clone())?].concat());
    let channels: Option<Vec<Vec<f64>>> = take.channels().iter().map(cut).collect();
    Take::new(take.rate_hz(), channels?).ok()
}

/// Where each mark begins, to a part of a sample.
fn find(signal: &[f64], rate_hz: f64) -> [Option<f64>; MARKS] {
    let times = (rate_hz / SEARCH_RATE_HZ).log2().floor().max(0.0) as u32;
    let thin = decimate::thinned(signal, times);
    let thin_rate_hz = rate_hz / f64::from(1 << times);
    let codes: [Vec<f64>; MARKS] = std::array::from_fn(|k| mark(k, rate_hz));
    let n = fft::fast_length(thin.len() + codes[0].len());
    let spectrum = in_band(&thin, n, thin_rate_hz);
    let energy = running_energy(&fft::real_inverse(&spectrum, n), codes[0].len() >> times);
    let floor = 1e-12 * energy.iter().copied().fold(0.0, f64::max);
    std::array::from_fn(|k| {
        let code = decimate::thinned(&codes[k], times);
        let against = in_band(&code, n, thin_rate_hz);
        let product: Vec<fft::Complex64> = spectrum.iter().zip(&against).map(|(a, b)| a * b.conj()).collect();
        let correlation = fft::real_inverse(&product, n);
        let own: f64 = code.iter().map(|s| s * s).sum();
        let agreement = |i: usize| correlation[i].abs() / (own * energy[i].max(floor)).sqrt().max(f64::MIN_POSITIVE);
        let last = thin.len().saturating_sub(code.len());
        let best = (0..last).max_by(|&a, &b| agreement(a).total_cmp(&agreement(b)))?;
        (agreement(best) > AGREES).then(|| refined(signal, &codes[k], best << times, 2 << times))
    })
}

fn in_band(signal: &[f64], n: usize, rate_hz: f64) -> Vec<fft::Complex64> {
    let mut padded = signal.to_vec();
    padded.resize(n, 0.0);
    let mut lines = fft::real_forward(&padded);
    for (k, line) in lines.iter_mut().enumerate() {
        let hz = k as f64 * rate_hz / n as f64;
        if !(BAND_HZ.0 - 10.0..=BAND_HZ.1 + 10.0).contains(&hz) {
            *line = fft::Complex64::default();
        }
    }
    lines
}

/// Energy of the `length` samples from each place on.
fn running_energy(signal: &[f64], length: usize) -> Vec<f64> {
    let mut sums = vec![0.0; signal.len() + 1];
    for (i, s) in signal.iter().enumerate() {
        sums[i + 1] = sums[i] + s * s;
    }
    (0..signal.len()).map(|i| sums[(i + length).min(signal.len())] - sums[i]).collect()
}

/// The best place around a coarse one, by all samples and a parabola through the three best.
fn refined(signal: &[f64], code: &[f64], coarse: usize, reach: usize) -> f64 {
    let at = |i: usize| signal.iter().skip(i).zip(code).map(|(a, b)| a * b).sum::<f64>();
    let begin = coarse.saturating_sub(reach);
    let values: Vec<f64> = (begin..=coarse + reach).map(at).collect();
    let sign = values.iter().copied().fold(0.0f64, |w, v| if v.abs() > w.abs() { v } else { w }).signum();
    let best = (0..values.len()).max_by(|&a, &b| (sign * values[a]).total_cmp(&(sign * values[b]))).unwrap_or(0);
    let inner = best.clamp(1, values.len() - 2);
    let [a, b, c] = [inner - 1, inner, inner + 1].map(|i| sign * values[i]);
    let bend = a - 2.0 * b + c;
    let shift = if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-1.0, 1.0) } else { 0.0 };
    (begin + inner) as f64 + shift
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::test_signals::render;

    const RATE_HZ: f64 = 48_000.0;

    fn take(late: usize, noise: f64) -> Vec<f64> {
        let shape = Shape::MarkedMultisine;
        let stimulus = Stimulus {
            shape,
            rate_hz: RATE_HZ,
            period_s: 1.0,
            periods: 6,
            low_hz: 5.0,
            high_hz: 20_000.0,
            peak_dbfs: -6.0,
            seed: 1,
            travel_shape: None,
        };
        let mut random = Random::new(7);
        let mut samples = vec![0.0; late];
        samples.extend(render(&stimulus).unwrap());
        samples.resize(samples.len() + 72_000, 0.0);
        samples.iter().map(|s| s + noise * random.normal()).collect()
    }

    fn cut(samples: Vec<f64>) -> Result<Option<Unmarked>, Box<Notice>> {
        unmarked(&Take::new(RATE_HZ, vec![samples]).unwrap(), 1)
    }

    /// Up to 1.5 s of delay, and noise of a tenth of full scale: three periods, two of the second half, the run-on.
    /// Differences of samples a period apart are √2 times the noise, within 1 % of 90 000 samples.
    #[test]
    fn marks_are_found_however_late() {
        for (late, noise) in [(0, 1e-4), (3217, 0.1), (72_000, 0.02)] {
            let whole = cut(take(late, noise)).unwrap().unwrap();
            assert_eq!((whole.take.len(), whole.period), (5 * 48_000 + 3840, 48_000));
            // In step: each sample is that of a second before.
            let s = whole.take.channel(1).unwrap();
            let apart: f64 = (90_000..180_000).map(|i| (s[i] - s[i + 48_000]).powi(2)).sum::<f64>() / 90_000.0;
            assert!(apart.sqrt() < 1.02 * 1.4143 * noise, "{late} {noise}: {}", apart.sqrt());
        }
    }

    #[test]
    fn lost_and_repeated_samples_void_the_take() {
        let moved = |result: Result<Option<Unmarked>, Box<Notice>>| {
            let notice = result.unwrap_err();
            assert_eq!(notice.code, Code::Gap);
            notice.numbers["mark_moved_samples"]
        };
        let mut lost = take(5000, 0.001);
        lost.drain(100_000..100_128);
        assert!((moved(cut(lost)) + 128.0).abs() < 0.1);
        let mut twice = take(5000, 0.001);
        let again = twice[250_000..250_064].to_vec();
        twice.splice(250_064..250_064, again);
        assert!((moved(cut(twice)) - 64.0).abs() < 0.1);
        let mut short = take(5000, 0.001);
        short.truncate(5000 + 7 * 48_000);
        assert_eq!(cut(short).unwrap_err().numbers["marks_found"], 2.0);
    }

    #[test]
    fn a_take_from_elsewhere_bears_no_marks() {
        let mut random = Random::new(1);
        assert_eq!(cut((0..400_000).map(|_| random.normal()).collect()), Ok(None));
        assert_eq!(cut(vec![0.0; 100_000]), Ok(None));
        assert_eq!(cut(vec![0.1; 100]), Ok(None));
    }
}
