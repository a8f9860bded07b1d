//! Windows for spectra, and their figures.
//!
//! Cosine sums w(n) = Σ (−1)^k a_k cos(2πkn/N), periodic form. Coefficients: Harris, Proc. IEEE 66(1), 1978 (Hann, Hamming,
//! four-term Blackman-Harris); ISO 18431-2 (flat top). Figures are computed from the coefficients, not tabulated.

use super::fft::circle;
use std::f64::consts::PI;

/// A window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Window {
    /// No weighting.
    Rectangle,
    /// Raised cosine.
    Hann,
    /// Raised cosine on a pedestal.
    Hamming,
    /// Four terms, side lobes below −92 dB.
    BlackmanHarris4,
    /// Five terms, level within 0.01 dB between lines.
    FlatTop,
    /// Five terms as in ISO 18431-2, mean 1.
    FlatTopIso,
}

impl Window {
    /// Coefficients a_0, a_1, ... of the cosine sum.
    pub fn coefficients(self) -> &'static [f64] {
        match self {
            Window::Rectangle => &[1.0],
            Window::Hann => &[0.5, 0.5],
            Window::Hamming => &[0.54, 0.46],
            Window::BlackmanHarris4 => &[0.35875, 0.48829, 0.14128, 0.01168],
            Window::FlatTop => &[0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368],
            Window::FlatTopIso => &[1.0, 1.933, 1.286, 0.388, 0.0322],
        }
    }

    /// `n` samples of the window, periodic form (sample n would be sample 0 again).
    pub fn samples(self, n: usize) -> Vec<f64> {
        let circle = circle(n.max(1));
        let signed = |k: usize, a: f64| if k % 2 == 0 { a } else { -a };
        let at = |i: usize| self.coefficients().iter().enumerate().map(|(k, a)| signed(k, *a) * circle(k * i).re).sum();
        (0..n).map(at).collect()
    }

    /// Value at a part 0 ..= 1 of the length.
    pub fn at(self, part: f64) -> f64 {
        let term = |(k, a): (usize, &f64)| {
            let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
            sign * a * (2.0 * PI * k as f64 * part).cos()
        };
        self.coefficients().iter().enumerate().map(term).sum()
    }

    /// Mean of a long window: by this a sine on a line is scaled.
    pub fn coherent_gain(self) -> f64 {
        self.coefficients()[0]
    }

    /// Equivalent noise bandwidth of a long window, in lines.
    pub fn noise_bandwidth_lines(self) -> f64 {
        let a = self.coefficients();
        let rest: f64 = a[1..].iter().map(|v| 0.5 * v * v).sum();
        (a[0] * a[0] + rest) / (a[0] * a[0])
    }

    /// Amplitude response of a long window at a distance in lines, 1 at its centre.
    pub fn response(self, lines: f64) -> f64 {
        // Seen from the middle all cosines have the same sign; each is two shifted sin(πx)/(πx).
        let sinc = |x: f64| if x.abs() < 1e-9 { 1.0 } else { (PI * x).sin() / (PI * x) };
        let a = self.coefficients();
        let side = |(i, v): (usize, &f64)| 0.5 * v * (sinc(lines - (i + 1) as f64) + sinc(lines + (i + 1) as f64));
        (sinc(lines) * a[0] + a[1..].iter().enumerate().map(side).sum::<f64>()) / a[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_agree_with_the_samples_themselves() {
        for window in [Window::Hann, Window::Hamming, Window::BlackmanHarris4, Window::FlatTop, Window::FlatTopIso] {
            let w = window.samples(4096);
            let mean = w.iter().sum::<f64>() / 4096.0;
            let square = w.iter().map(|v| v * v).sum::<f64>() / 4096.0;
            // Sums of cosines over whole periods vanish: only rounding is left.
            assert!((mean - window.coherent_gain()).abs() < 1e-12);
            assert!((square / (mean * mean) - window.noise_bandwidth_lines()).abs() < 1e-12);
            let off: f64 =
                w.iter().enumerate().map(|(n, v)| v * (2.0 * PI * 0.5 * (n as f64 - 2048.0) / 4096.0).cos()).sum();
            // The sum of 4096 samples differs from the integral by the order of (π·lines/4096)².
            assert!((off / 4096.0 / mean - window.response(0.5)).abs() < 1e-5, "{window:?}");
        }
    }
}
