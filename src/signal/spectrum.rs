//! Ratio of two channels where the stimulus is not ours.
//!
//! - Stationary noise: Welch's averaged spectra with coherence (Bendat and Piersol, Random Data). Only for stationary
//!   signals: with a sweep, windowed segments are biased near a resonance and the coherence overstates the spread.
//! - Foreign sweep: one transform of the whole record, from silence to silence, nothing windowed. Over a few neighbouring
//!   lines the ratio is a straight line, fitted with the source's lines as regressor; what is left over gives the variance.

use crate::math::axes::fractional_octaves;
use crate::math::fft::{self, Complex64};
use crate::math::windows::Window;

/// A ratio at one frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatioPoint {
    /// Frequency.
    pub frequency_hz: f64,
    /// Second channel over first.
    pub value: Complex64,
    /// Variance E|δ|² (real and imaginary part together).
    pub variance: f64,
    /// Degrees of freedom of the variance.
    pub degrees_of_freedom: f64,
}

/// Averaged spectra of two channels of equal length.
#[derive(Clone, Debug, PartialEq)]
pub struct Welch {
    /// Line frequencies from 0 to half the rate.
    pub frequency_hz: Vec<f64>,
    /// Power density of the first channel, per hertz.
    pub first: Vec<f64>,
    /// Power density of the second channel.
    pub second: Vec<f64>,
    /// Cross density, conj(first) × second.
    pub cross: Vec<Complex64>,
    /// Averages that count as independent; overlapping segments share samples.
    pub independent_averages: f64,
}

impl Welch {
    /// Ordinary coherence γ² on a line, 0 to 1.
    pub fn coherence(&self, line: usize) -> f64 {
        let product = self.first[line] * self.second[line];
        if product > 0.0 {
            (self.cross[line].norm_sqr() / product).min(1.0)
        } else {
            0.0
        }
    }

    /// Second over first on a line with its random error; none where the first channel is silent.
    pub fn ratio(&self, line: usize) -> Option<RatioPoint> {
        if self.first[line] <= 0.0 {
            return None;
        }
        let value = self.cross[line] / self.first[line];
        let relative = random_error_of_magnitude(self.coherence(line), self.independent_averages);
        // The relative error of the magnitude and the phase error in radian are the two halves of E|δ|².
        let variance = 2.0 * relative * relative * value.norm_sqr();
        let degrees_of_freedom = 2.0 * (self.independent_averages - 1.0).max(1.0);
        Some(RatioPoint { frequency_hz: self.frequency_hz[line], value, variance, degrees_of_freedom })
    }
}

/// Relative standard deviation of |H|, and standard deviation of its phase in radian: √(1 − γ²)/(γ√(2n)).
pub fn random_error_of_magnitude(coherence: f64, averages: f64) -> f64 {
    if coherence <= 0.0 {
        return f64::INFINITY;
    }
    ((1.0 - coherence).max(0.0) / (coherence * 2.0 * averages)).sqrt()
}

/// Relative standard deviation of the coherence itself: √2(1 − γ²)/(γ√n).
pub fn random_error_of_coherence(coherence: f64, averages: f64) -> f64 {
    2.0_f64.sqrt() * (1.0 - coherence) / (coherence * averages).sqrt()
}

/// Coherence that independent noises exceed by chance in the given part of cases: 1 − p^(1/(n − 1)).
pub fn chance_coherence(part: f64, averages: f64) -> f64 {
    1.0 - part.powf(1.0 / (averages - 1.0))
}

/// Welch's method with a Hann window and half-overlapping segments; none where not two segments fit.
pub fn welch(first: &[f64], second: &[f64], rate_hz: f64, segment: usize) -> Option<Welch> {
    let length = first.len().min(second.len());
    let hop = segment / 2;
    if segment < 4 || length < segment + hop {
        return None;
    }
    let window = Window::Hann.samples(segment);
    let lines = segment / 2 + 1;
    let (mut a, mut b, mut cross) = (vec![0.0; lines], vec![0.0; lines], vec![Complex64::default(); lines]);
    let segments = (length - segment) / hop + 1;
    for s in 0..segments {
        let x = windowed(&first[s * hop..s * hop + segment], &window);
        let y = windowed(&second[s * hop..s * hop + segment], &window);
        for k in 0..lines {
            a[k] += x[k].norm_sqr();
            b[k] += y[k].norm_sqr();
            cross[k] += x[k].conj() * y[k];
        }
    }
    let power: f64 = window.iter().map(|w| w * w).sum();
    for k in 0..lines {
        // Both halves of the spectrum in one, except at the ends.
        let sides = if k == 0 || 2 * k == segment { 1.0 } else { 2.0 };
        let scale = sides / (power * rate_hz * segments as f64);
        a[k] *= scale;
        b[k] *= scale;
        cross[k] *= scale;
    }
    let frequency_hz = (0..lines).map(|k| k as f64 * rate_hz / segment as f64).collect();
    let independent_averages = independent_averages(segments);
    Some(Welch { frequency_hz, first: a, second: b, cross, independent_averages })
}

/// Segments that count, at half overlap under a Hann window: correlation of neighbouring squared spectra is 1/36
/// (square of Σw(n)w(n + N/2)/Σw² = 1/6), so K segments count as K/(1 + 2(K − 1)/(36K)) (Welch 1967).
fn independent_averages(segments: usize) -> f64 {
    let k = segments as f64;
    k / (1.0 + 2.0 * (k - 1.0) / (36.0 * k))
}

/// Spectrum of a segment without its mean, under the window.
fn windowed(segment: &[f64], window: &[f64]) -> Vec<Complex64> {
    let mean = segment.iter().sum::<f64>() / segment.len() as f64;
    let weighted: Vec<f64> = segment.iter().zip(window).map(|(s, w)| (s - mean) * w).collect();
    fft::real_forward(&weighted)
}

/// Lines fitted together at least: two unknowns, and three left over to tell the noise.
const LINES_AT_LEAST: usize = 5;

/// Ratio of second over first from the whole record, in bands of 1/`per_octave` octave. The record must begin and end in
/// silence (or hold whole periods); bands where the source has less than a millionth of its strongest band's power density
/// are left out.
pub fn whole_record_ratio(first: &[f64], second: &[f64], rate_hz: f64, per_octave: f64) -> Vec<RatioPoint> {
    let n = first.len().min(second.len());
    if n < 4 * LINES_AT_LEAST {
        return Vec::new();
    }
    let size = fft::fast_length(n);
    let spectrum = |samples: &[f64]| {
        let mut padded = samples[..n].to_vec();
        padded.resize(size, 0.0);
        fft::real_forward(&padded)
    };
    let (x, y) = (spectrum(first), spectrum(second));
    let axis: Vec<f64> = (0..x.len()).map(|k| k as f64 * rate_hz / size as f64).collect();
    let bands = fractional_octaves(&axis, per_octave, LINES_AT_LEAST);
    let density = |r: &std::ops::Range<usize>| x[r.clone()].iter().map(|z| z.norm_sqr()).sum::<f64>() / r.len() as f64;
    let strongest = bands.iter().map(&density).fold(0.0, f64::max);
    let mut fitted: Vec<Band> = bands
        .iter()
        .filter(|band| density(band) > 1e-6 * strongest)
        .filter_map(|band| fit_band(&axis[band.clone()], &x[band.clone()], &y[band.clone()]))
        .collect();
    straighten(&mut fitted);
    fitted.into_iter().map(|band| band.point).collect()
}

/// A band's straight line.
struct Band {
    point: RatioPoint,
    /// Slope of the ratio a hertz.
    gradient: Complex64,
    /// Mean square distance of the lines from the centre of power in Hz².
    mean_square_hz2: f64,
}

/// Takes off what a straight line misses of a bend: half the second derivative times the mean square width, which for a
/// band w wide on a resonance of half-width h is w²/(12 h²) of its height. The second derivative comes from the slopes of
/// the two neighbouring bands; a tenth of their scatter comes in by that.
fn straighten(bands: &mut [Band]) {
    let bend = |i: usize| {
        let (before, after) = (bands.get(i.checked_sub(1)?)?, bands.get(i + 1)?);
        let apart_hz = after.point.frequency_hz - before.point.frequency_hz;
        let near = apart_hz * apart_hz < 100.0 * bands[i].mean_square_hz2;
        near.then(|| (after.gradient - before.gradient) / apart_hz)
    };
    let bends: Vec<Complex64> = (0..bands.len()).map(|i| bend(i).unwrap_or_default()).collect();
    for (band, bend) in bands.iter_mut().zip(bends) {
        band.point.value -= 0.5 * bend * band.mean_square_hz2;
    }
}

/// y = (h + g (f − f₀)) x by least squares over complex h and g, f₀ being the centre of power: h is the ratio there.
fn fit_band(axis: &[f64], x: &[Complex64], y: &[Complex64]) -> Option<Band> {
    let power: f64 = x.iter().map(|z| z.norm_sqr()).sum();
    if power <= 0.0 {
        return None;
    }
    let centre = axis.iter().zip(x).map(|(f, z)| f * z.norm_sqr()).sum::<f64>() / power;
    let mut spread = 0.0;
    let (mut level, mut slope) = (Complex64::default(), Complex64::default());
    for ((f, x), y) in axis.iter().zip(x).zip(y) {
        let d = f - centre;
        spread += d * d * x.norm_sqr();
        level += y * x.conj();
        slope += y * x.conj() * d;
    }
    // At the centre of power the two regressors are orthogonal.
    let value = level / power;
    let gradient = if spread > 0.0 { slope / spread } else { Complex64::default() };
    let left_over: f64 =
        axis.iter().zip(x).zip(y).map(|((f, x), y)| (y - (value + gradient * (f - centre)) * x).norm_sqr()).sum();
    let degrees = axis.len() as f64 - 2.0;
    let variance = left_over / (degrees * power);
    let point = RatioPoint { frequency_hz: centre, value, variance, degrees_of_freedom: 2.0 * degrees };
    Some(Band { point, gradient, mean_square_hz2: spread / power })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::sweep::Sweep;
    use crate::signal::test_signals::fade;
    use std::f64::consts::PI;

    /// A resonance at 60 Hz with Q 4 as a two-pole band-pass in the time domain (trapezoidal rule), and its exact ratio.
    struct BandPass {
        b: [f64; 3],
        a: [f64; 2],
    }

    impl BandPass {
        fn new(frequency_hz: f64, q: f64, rate_hz: f64) -> Self {
            let w = (PI * frequency_hz / rate_hz).tan();
            let scale = 1.0 + w / q + w * w;
            BandPass {
                b: [w / q / scale, 0.0, -w / q / scale],
                a: [2.0 * (w * w - 1.0) / scale, (1.0 - w / q + w * w) / scale],
            }
        }

        fn filter(&self, x: &[f64]) -> Vec<f64> {
            let mut y = vec![0.0; x.len()];
            for n in 0..x.len() {
                let past = |v: &[f64], d: usize| if n >= d { v[n - d] } else { 0.0 };
                y[n] = self.b[0] * x[n] + self.b[2] * past(x, 2) - self.a[0] * past(&y, 1) - self.a[1] * past(&y, 2);
            }
            y
        }

        fn response(&self, frequency_hz: f64, rate_hz: f64) -> Complex64 {
            let z = Complex64::cis(-2.0 * PI * frequency_hz / rate_hz);
            (self.b[0] + self.b[2] * z * z) / (1.0 + self.a[0] * z + self.a[1] * z * z)
        }
    }

    #[test]
    fn a_foreign_sweep_gives_the_ratio_of_a_resonance_without_bias() {
        let rate_hz = 8000.0;
        let sweep = Sweep { low_hz: 10.0, high_hz: 3500.0, length_s: 6.0 };
        let mut x: Vec<f64> = (0..48_000).map(|n| sweep.at(f64::from(n) / rate_hz)).collect();
        fade(&mut x, 400);
        x.splice(0..0, vec![0.0; 4000]);
        x.extend(vec![0.0; 8000]);
        let system = BandPass::new(60.0, 4.0, rate_hz);
        let points = whole_record_ratio(&x, &system.filter(&x), rate_hz, 48.0);
        let near: Vec<_> = points.iter().filter(|p| (40.0..90.0).contains(&p.frequency_hz)).collect();
        assert!(near.len() > 30);
        for p in near {
            let truth = system.response(p.frequency_hz, rate_hz);
            // Curvature over a band of 8 lines (1.07 Hz): |H''| ≤ 2(2Q/f)², so at most (2Q/f)²·w²/12 = 0.0017 at 60 Hz.
            assert!((p.value - truth).norm() < 0.0025, "{} Hz: {} for {truth}", p.frequency_hz, p.value);
        }
    }

    #[test]
    fn the_variance_of_a_whole_record_ratio_predicts_its_error() {
        let rate_hz = 8000.0;
        let mut random = Random::new(4);
        let sweep = Sweep { low_hz: 10.0, high_hz: 3500.0, length_s: 6.0 };
        let x: Vec<f64> = (0..48_000).map(|n| sweep.at(f64::from(n) / rate_hz)).collect();
        let y: Vec<f64> = x.iter().map(|s| 0.5 * s + 0.01 * random.normal()).collect();
        let points = whole_record_ratio(&x, &y, rate_hz, 24.0);
        let inside: Vec<_> = points.iter().filter(|p| (20.0..3000.0).contains(&p.frequency_hz)).collect();
        let error: f64 =
            inside.iter().map(|p| (p.value - 0.5).norm_sqr() / p.variance).sum::<f64>() / inside.len() as f64;
        // Ratio of a χ²₂/2 to a χ²/ν variable with ν ≥ 12: mean ν/(ν − 2) ≤ 1.2, relative deviation ~1/√points.
        let allowed = 4.0 / (inside.len() as f64).sqrt();
        assert!((error - 1.1).abs() < 0.1 + allowed, "{error}");
    }

    #[test]
    fn stationary_noise_gives_ratio_and_coherence() {
        let rate_hz = 8000.0;
        let mut random = Random::new(8);
        let x: Vec<f64> = (0..400_000).map(|_| random.normal()).collect();
        let y: Vec<f64> = x.iter().map(|s| 0.5 * s + 0.5 * random.normal()).collect();
        let w = welch(&x, &y, rate_hz, 1024).expect("long enough");
        let inner = 5..500;
        let mean = |f: &dyn Fn(usize) -> f64| inner.clone().map(f).sum::<f64>() / 495.0;
        // White noise of variance 1: density 2/rate. 780 averages over 495 lines: 0.2 % left of scatter, five times that.
        assert!((mean(&|k| w.first[k]) * rate_hz / 2.0 - 1.0).abs() < 0.01);
        // γ² = 0.25/(0.25 + 0.25) = ½.
        assert!((mean(&|k| w.coherence(k)) - 0.5).abs() < 0.01);
        let z = mean(&|k| {
            let r = w.ratio(k).expect("excited");
            (r.value - 0.5).norm_sqr() / r.variance
        });
        // Mean of 495 variables of mean 1 and deviation 1 (neighbouring lines share power): 4·√(2/495).
        assert!((z - 1.0).abs() < 0.25, "{z}");
        assert!(welch(&x[..100], &y[..100], rate_hz, 1024).is_none());
    }

    #[test]
    fn random_errors_of_averaged_spectra() {
        // Bendat and Piersol, Random Data (errors of magnitude, phase, coherence); Shumway and Stoffer (chance level):
        // γ² 0.9, 16 averages. Printed to six digits.
        let close = |found: f64, printed: f64| (found / printed - 1.0).abs() < 1e-5;
        assert!(close(random_error_of_magnitude(0.9, 16.0), 0.058_925_6));
        assert!(close(random_error_of_magnitude(0.9, 16.0).to_degrees(), 3.376_19));
        assert!(close(random_error_of_coherence(0.9, 16.0), 0.037_267_8));
        assert!(close(chance_coherence(0.05, 16.0), 0.181_036));
    }
}
