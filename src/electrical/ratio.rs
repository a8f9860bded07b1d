//! Ratio of two channels over frequency with its scatter: the shape that every way of measuring it answers in.

use super::impedance::ImpedancePoint;
use super::jig::{Jig, Track};
use crate::math::fft::Complex64;

/// Ratio at one frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatioLine {
    /// Frequency in Hz.
    pub frequency_hz: f64,
    /// Driver channel over source channel.
    pub ratio: Complex64,
    /// Expected |error|² of the ratio from noise.
    pub variance: f64,
}

/// How a ratio was obtained.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Averaged over whole periods; the scatter is that between periods.
    WholePeriods,
    /// The whole record at once; the scatter is that between neighbouring lines.
    WholeRecord,
    /// Averaged segments of stationary noise; the scatter follows from the coherence.
    Segments,
}

impl Method {
    /// In words, for what a reading was computed with.
    pub fn words(self) -> &'static str {
        match self {
            Method::WholePeriods => "two-channel ratio over whole periods",
            Method::WholeRecord => "two-channel ratio of the whole record",
            Method::Segments => "two-channel ratio of averaged noise segments",
        }
    }

    /// By name, for the choices of a reading.
    pub fn name(self) -> &'static str {
        match self {
            Method::WholePeriods => "whole_periods",
            Method::WholeRecord => "whole_record",
            Method::Segments => "segments",
        }
    }
}

/// The ratio of a take.
#[derive(Clone, Debug, PartialEq)]
pub struct RatioCurve {
    /// Lines in rising frequency, mains multiples and unexcited lines left out.
    pub lines: Vec<RatioLine>,
    /// How it was obtained.
    pub method: Method,
    /// Periods (or segments) that count.
    pub averages: usize,
    /// Periods set aside because they do not fit the others.
    pub set_aside: usize,
    /// Places where samples were lost or repeated.
    pub slips: usize,
    /// Power of the signal over that of the scatter in the driver channel, in dB.
    pub snr_db: f64,
}

impl RatioCurve {
    /// No lines yet, nothing set aside.
    pub fn empty(method: Method, averages: usize) -> Self {
        RatioCurve { lines: Vec::new(), method, averages, set_aside: 0, slips: 0, snr_db: 0.0 }
    }

    /// Turns the driver channel upside down.
    pub fn turn(&mut self) {
        self.lines.iter_mut().for_each(|l| l.ratio = -l.ratio);
    }

    /// Weighted means in bins of `share` of the frequency, as a track for calibrations.
    pub fn track(&self, share: f64) -> Track {
        let as_points: Vec<ImpedancePoint> = self
            .lines
            .iter()
            .map(|l| ImpedancePoint { frequency_hz: l.frequency_hz, z_ohm: l.ratio, variance_ohm2: l.variance })
            .collect();
        let bins = super::impedance::gather(&as_points, |hz| share * hz);
        Track::new(bins.iter().map(|b| (b.frequency_hz, b.z_ohm, b.variance_ohm2)).collect())
    }

    /// The impedance of every line through a jig.
    pub fn impedance(&self, jig: &Jig) -> Vec<ImpedancePoint> {
        let through = |line: &RatioLine| {
            let (h, brought_in) = jig.true_ratio(line.frequency_hz, line.ratio);
            let (z_ohm, slope2) = jig.impedance_of(line.frequency_hz, line.ratio, h);
            // What the correction brings in is relative to H; |∂Z/∂H|²|H recorded|² turns it into Ω².
            let variance_ohm2 = slope2 * (line.variance + brought_in * line.ratio.norm_sqr());
            ImpedancePoint { frequency_hz: line.frequency_hz, z_ohm, variance_ohm2 }
        };
        self.lines.iter().map(through).filter(|p| p.z_ohm.is_finite()).collect()
    }
}

/// True where `hz` is a multiple of 50 or 60 Hz up to 1 kHz, within `tolerance_hz`: hum stands there, and with whole
/// cycles of the mains in a period it repeats so exactly that no scatter shows it.
pub fn on_mains(hz: f64, tolerance_hz: f64) -> bool {
    if hz > 1000.0 + tolerance_hz {
        return false;
    }
    let close = |mains: f64| {
        let multiple = (hz / mains).round();
        multiple >= 1.0 && multiple * mains <= 1000.0 && (hz - multiple * mains).abs() <= tolerance_hz
    };
    close(50.0) || close(60.0)
}

/// Smooths a noise floor along lines: mean over neighbours within `share` of the frequency, at least `least` each side.
pub fn pooled(frequency_hz: &[f64], floor: &[f64], share: f64, least: usize) -> Vec<f64> {
    let mut sums = vec![0.0; floor.len() + 1];
    for (i, f) in floor.iter().enumerate() {
        sums[i + 1] = sums[i] + f;
    }
    // Frequencies rise, and with them both ends.
    let (mut below, mut upto) = (0, 0);
    let mut out = Vec::with_capacity(floor.len());
    for (i, hz) in frequency_hz.iter().enumerate() {
        while frequency_hz[below] < hz * (1.0 - share) {
            below += 1;
        }
        while upto < frequency_hz.len() && frequency_hz[upto] <= hz * (1.0 + share) {
            upto += 1;
        }
        let (low, high) = (below.min(i.saturating_sub(least)), upto.max((i + least + 1).min(floor.len())));
        out.push((sums[high] - sums[low]) / (high - low) as f64);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mains_multiples() {
        assert!(on_mains(50.0, 0.1) && on_mains(120.05, 0.1) && on_mains(1000.0, 0.1));
        assert!(!on_mains(51.0, 0.1) && !on_mains(1050.0, 0.1) && !on_mains(0.0, 0.1));
    }

    #[test]
    fn pooling_is_a_local_mean() {
        let hz: Vec<f64> = (1..=100).map(f64::from).collect();
        let floor: Vec<f64> = (1..=100).map(|i| if i % 2 == 0 { 2.0 } else { 0.0 }).collect();
        let smooth = pooled(&hz, &floor, 0.05, 4);
        // Eight neighbours and itself: the mean of alternating 0 and 2 is 1 within 1/9 (at the ends within 1/5).
        assert!(smooth.iter().all(|s| (s - 1.0).abs() <= 0.2 + 1e-12));
    }
}
