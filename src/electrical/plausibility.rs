//! Whether two channels of a take can be the two nodes of a jig with a driver in it: wiring faults by their marks.
//!
//! Passive circuits only take away: |H| ≤ 1, so |H| > 1 is a swap. An open jig shows H = 1 and flat, a short next to
//! nothing, a dead input something unrelated. Thresholds are chosen well
//! outside of what drivers of 2 to 32 Ω with resistors of 1 to 1000 Ω do.

use super::ratio::RatioCurve;
use crate::math::fft::Complex64;
use crate::math::vectors::{dot, energy, mean};
use crate::signal::notice::{Code, Notice};

/// A channel this much weaker than the other and unrelated to it is dead.
const DEAD_RATIO: f64 = 0.05;
/// Correlation at no delay that still counts as unrelated.
const UNRELATED: f64 = 0.2;
/// Modulus above which a driver reads as open, if flat; and below which as shorted.
const SHORTED_OHM: f64 = 0.6;

/// A channel that is much weaker than the other and has nothing to do with it. Channels counted from 1, for the message.
pub fn unrelated_fault(source: &[f64], driver: &[f64], source_channel: usize, driver_channel: usize) -> Option<Notice> {
    let (mean_x, mean_y) = (mean(source), mean(driver));
    let (xx, yy) = (energy(source, mean_x), energy(driver, mean_y));
    let xy = dot(source, driver) - source.len() as f64 * mean_x * mean_y;
    let correlation = xy / (xx * yy).sqrt().max(f64::MIN_POSITIVE);
    let (weak, strong, channel) = if xx < yy { (xx, yy, source_channel) } else { (yy, xx, driver_channel) };
    if weak < DEAD_RATIO * DEAD_RATIO * strong && correlation.abs() < UNRELATED {
        let rms_dbfs = 10.0 * (weak / source.len() as f64).max(1e-20).log10();
        return Some(Notice::new(Code::DeadChannel, &[("channel", channel as f64), ("rms_dbfs", rms_dbfs)]));
    }
    None
}

/// What the ratio gives away. `gain` is the driver channel's gain over the source channel's where it is known (else 1),
/// `series_resistor_ohm` as stated.
pub fn ratio_fault(curve: &RatioCurve, gain: f64, series_resistor_ohm: f64) -> Option<Notice> {
    let modulus: Vec<f64> = curve.lines.iter().map(|l| l.ratio.norm() / gain).collect();
    let middle = median(modulus.iter().copied())?;
    let louder = modulus.iter().filter(|m| **m > 1.0).count() as f64 / modulus.len() as f64;
    if middle > 1.04 && louder > 0.75 {
        return Some(Notice::new(Code::SwappedChannels, &[("excess_db", 20.0 * middle.log10())]));
    }
    let strays = modulus.iter().filter(|m| (**m - middle).abs() > 0.02).count() as f64 / modulus.len() as f64;
    if middle > 0.9 && strays < 0.02 {
        let ohm = series_resistor_ohm * middle / (1.0 - middle).abs().max(1e-4);
        return Some(Notice::new(Code::OpenCircuit, &[("impedance_ohm", ohm)]));
    }
    let impedance = |h: Complex64| (h * series_resistor_ohm / (1.0 - h)).norm();
    let ohm = median(curve.lines.iter().map(|l| impedance(l.ratio / gain)))?;
    if ohm < SHORTED_OHM {
        return Some(Notice::new(Code::ShortCircuit, &[("impedance_ohm", ohm)]));
    }
    None
}

/// True where the driver channel comes in upside down: |H| below 1, but against the source.
pub fn inverted(curve: &RatioCurve) -> bool {
    median(curve.lines.iter().map(|l| l.ratio.re)).is_some_and(|re| re < 0.0)
}

/// Level difference in dB of a take with both inputs on one node, where that cannot be: beyond 3 dB.
pub fn one_clip_fault(curve: &RatioCurve) -> Option<Notice> {
    let worst = curve.lines.iter().map(|l| 20.0 * l.ratio.norm().max(1e-9).log10());
    let middle = median(worst)?;
    (middle.abs() > 3.0).then(|| Notice::new(Code::NotOneClip, &[("difference_db", middle)]))
}

/// A take with a short that still sees a tenth of the source.
pub fn short_fault(curve: &RatioCurve) -> Option<Notice> {
    let middle = median(curve.lines.iter().map(|l| l.ratio.norm()))?;
    (middle > 0.1).then(|| Notice::new(Code::NotShorted, &[("difference_db", 20.0 * middle.log10())]))
}

/// A take with nothing in the driver's place of which a tenth is missing: something is still connected.
pub fn open_fault(curve: &RatioCurve) -> Option<Notice> {
    let middle = median(curve.lines.iter().map(|l| l.ratio.norm()))?;
    (middle < 0.9).then(|| Notice::new(Code::NotOpen, &[("difference_db", 20.0 * middle.max(1e-9).log10())]))
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let values: Vec<f64> = values.collect();
    crate::math::robust::median(&values)
}

#[cfg(test)]
mod tests {
    use super::super::ratio::{Method, RatioLine};
    use super::*;

    fn curve(h: impl Fn(f64) -> f64) -> RatioCurve {
        let line = |i: i32| {
            let hz = 10.0 * 1.1f64.powi(i);
            RatioLine { frequency_hz: hz, ratio: Complex64::new(h(hz), 0.0), variance: 1e-8 }
        };
        RatioCurve { lines: (0..80).map(line).collect(), ..RatioCurve::empty(Method::WholePeriods, 4) }
    }

    fn divider(r: f64) -> impl Fn(f64) -> f64 {
        move |hz: f64| {
            let z = 6.0 + 50.0 / (1.0 + (hz / 30.0 - 30.0 / hz).powi(2));
            z / (z + r)
        }
    }

    fn code(curve: &RatioCurve, r: f64) -> Option<Code> {
        ratio_fault(curve, 1.0, r).map(|n| n.code)
    }

    #[test]
    fn wiring_faults_by_their_ratio() {
        for r in [1.0, 10.0, 47.0, 1000.0] {
            assert_eq!(code(&curve(divider(r)), r), None, "{r}");
            assert_eq!(code(&curve(|hz| 1.0 / divider(r)(hz)), r), Some(Code::SwappedChannels), "{r}");
        }
        assert_eq!(code(&curve(|_| 0.998), 10.0), Some(Code::OpenCircuit));
        assert_eq!(code(&curve(|_| 0.07 / 10.07), 10.0), Some(Code::ShortCircuit));
        assert!(inverted(&curve(|hz| -divider(10.0)(hz))) && !inverted(&curve(divider(10.0))));
        assert!(one_clip_fault(&curve(divider(10.0))).is_some() && one_clip_fault(&curve(|_| 0.9)).is_none());
        assert!(open_fault(&curve(divider(10.0))).is_some() && open_fault(&curve(|_| 0.98)).is_none());
        // 2 dB more gain in the driver channel is no swap once it is known.
        let louder = curve(|hz| 1.26 * divider(0.6)(hz));
        assert_eq!(code(&louder, 0.6), Some(Code::SwappedChannels));
        assert_eq!(ratio_fault(&louder, 1.26, 0.6), None);
        assert!(short_fault(&curve(divider(10.0))).is_some() && short_fault(&curve(|_| 0.007)).is_none());
    }

    #[test]
    fn a_dead_channel_has_nothing_to_do_with_the_other() {
        let tone: Vec<f64> = (0..4800).map(|i| 0.2 * (0.05 * f64::from(i)).sin()).collect();
        let other: Vec<f64> = (0..4800).map(|i| 1e-4 * (0.3 * f64::from(i)).sin()).collect();
        let times = |factor: f64| tone.iter().map(|s| factor * s).collect::<Vec<f64>>();
        assert_eq!(unrelated_fault(&tone, &times(0.5), 1, 2), None);
        assert_eq!(unrelated_fault(&tone, &other, 1, 2).map(|n| n.code), Some(Code::DeadChannel));
        assert_eq!(unrelated_fault(&other, &tone, 1, 2).map(|n| n.numbers["channel"]), Some(1.0));
        // A short's few millivolts follow the source.
        assert_eq!(unrelated_fault(&tone, &times(0.005), 1, 2), None);
    }
}
