//! Discrete Fourier transform of any length: the one place that names the FFT library.
//!
//! Scale and order, fixed here for everybody: `X[k] = Σ x[n] e^(−2πi kn/N)` forwards, unscaled; the inverse carries 1/N.
//! Real signals give the one-sided spectrum `k = 0 ..= N/2`. Plans and twiddle factors are kept per thread.
//! Even-length real signals go through a complex transform of half the length (textbook packing of even and odd samples).

use rustfft::{Fft, FftPlanner};
use std::cell::RefCell;
use std::collections::HashMap;
use std::f64::consts::PI;
use std::rc::Rc;
use std::sync::Arc;

/// Double-precision complex number.
pub use rustfft::num_complex::Complex64;

/// Twiddle tables kept at most; a session uses a handful of lengths.
const TABLES_KEPT: usize = 8;

struct Plans {
    planner: FftPlanner<f64>,
    scratch: Vec<Complex64>,
    twiddles: HashMap<usize, Rc<Vec<Complex64>>>,
}

thread_local! {
    static PLANS: RefCell<Plans> =
        RefCell::new(Plans { planner: FftPlanner::new(), scratch: Vec::new(), twiddles: HashMap::new() });
}

impl Plans {
    fn run(&mut self, plan: &Arc<dyn Fft<f64>>, buffer: &mut [Complex64]) {
        let needed = plan.get_inplace_scratch_len();
        if self.scratch.len() < needed {
            self.scratch.resize(needed, Complex64::default());
        }
        plan.process_with_scratch(buffer, &mut self.scratch[..needed]);
    }

    /// e^(−2πi k/n) for k = 0 ..= n/4; the rest follows by symmetry in the caller.
    fn twiddles(&mut self, n: usize) -> Rc<Vec<Complex64>> {
        if let Some(table) = self.twiddles.get(&n) {
            return Rc::clone(table);
        }
        if self.twiddles.len() >= TABLES_KEPT {
            self.twiddles.clear();
        }
        let table: Rc<Vec<Complex64>> =
            Rc::new((0..=n / 4).map(|k| Complex64::cis(-2.0 * PI * k as f64 / n as f64)).collect());
        self.twiddles.insert(n, Rc::clone(&table));
        table
    }
}

/// Forward transform in place, unscaled. Any length, zero included.
pub fn complex_forward(buffer: &mut [Complex64]) {
    if buffer.is_empty() {
        return;
    }
    PLANS.with_borrow_mut(|plans| {
        let plan = plans.planner.plan_fft_forward(buffer.len());
        plans.run(&plan, buffer);
    });
}

/// Inverse transform in place, scaled by 1/N so that it undoes [`complex_forward`].
pub fn complex_inverse(buffer: &mut [Complex64]) {
    if buffer.is_empty() {
        return;
    }
    PLANS.with_borrow_mut(|plans| {
        let plan = plans.planner.plan_fft_inverse(buffer.len());
        plans.run(&plan, buffer);
    });
    let scale = 1.0 / buffer.len() as f64;
    for value in buffer {
        *value *= scale;
    }
}

/// One-sided spectrum (N/2 + 1 lines) of a real signal of any length N, unscaled; empty for an empty signal.
pub fn real_forward(signal: &[f64]) -> Vec<Complex64> {
    let n = signal.len();
    if n == 0 {
        return Vec::new();
    }
    if n % 2 == 1 {
        let mut buffer: Vec<Complex64> = signal.iter().map(|&x| Complex64::new(x, 0.0)).collect();
        complex_forward(&mut buffer);
        buffer.truncate(n / 2 + 1);
        return buffer;
    }
    let mut lines = Vec::with_capacity(n / 2 + 1);
    lines.extend(signal.chunks_exact(2).map(|pair| Complex64::new(pair[0], pair[1])));
    complex_forward(&mut lines);
    unpack(&mut lines, n);
    lines
}

/// Real signal of length `n` from its one-sided spectrum; undoes [`real_forward`]. Missing lines count as zero,
/// and the imaginary parts of the lines at zero and at half the rate are ignored.
pub fn real_inverse(lines: &[Complex64], n: usize) -> Vec<f64> {
    if n == 0 {
        return Vec::new();
    }
    let line = |k: usize| lines.get(k).copied().unwrap_or_default();
    if n % 2 == 1 {
        let mut buffer = vec![Complex64::default(); n];
        buffer[0] = Complex64::new(line(0).re, 0.0);
        for k in 1..=n / 2 {
            buffer[k] = line(k);
            buffer[n - k] = line(k).conj();
        }
        complex_inverse(&mut buffer);
        return buffer.iter().map(|z| z.re).collect();
    }
    let mut packed = pack(line, n);
    complex_inverse(&mut packed);
    packed.iter().flat_map(|z| [z.re, z.im]).collect()
}

/// Smallest length of at least `n` that has no prime factor above 5 (fast to transform).
pub fn fast_length(n: usize) -> usize {
    let smooth = |mut k: usize| {
        for factor in [2, 3, 5] {
            while k % factor == 0 {
                k /= factor;
            }
        }
        k == 1
    };
    (n.max(1)..).find(|&k| smooth(k)).unwrap_or(n)
}

/// Turns the transform of the packed signal (n/2 values) into the one-sided spectrum of the real one (n/2 + 1 values).
fn unpack(lines: &mut Vec<Complex64>, n: usize) {
    let half = n / 2;
    let first = lines[0];
    lines[0] = Complex64::new(first.re + first.im, 0.0);
    lines.push(Complex64::new(first.re - first.im, 0.0));
    let twiddles = PLANS.with_borrow_mut(|plans| plans.twiddles(n));
    for k in 1..=half / 2 {
        let (a, b) = (lines[k], lines[half - k]);
        let even = (a + b.conj()) * 0.5;
        let odd = (a - b.conj()) * Complex64::new(0.0, -0.5) * twiddles[k];
        lines[k] = even + odd;
        lines[half - k] = (even - odd).conj();
    }
}

/// The inverse of [`unpack`]: packed spectrum of n/2 values.
fn pack(line: impl Fn(usize) -> Complex64, n: usize) -> Vec<Complex64> {
    let half = n / 2;
    let (first, last) = (line(0).re, line(half).re);
    let mut packed = vec![Complex64::default(); half];
    packed[0] = Complex64::new((first + last) * 0.5, (first - last) * 0.5);
    let twiddles = PLANS.with_borrow_mut(|plans| plans.twiddles(n));
    for k in 1..=half / 2 {
        let (a, b) = (line(k), line(half - k));
        let even = (a + b.conj()) * 0.5;
        let odd = (a - b.conj()) * Complex64::new(0.0, 0.5) * twiddles[k].conj();
        packed[k] = even + odd;
        packed[half - k] = (even - odd).conj();
    }
    packed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    fn noise(n: usize) -> Vec<f64> {
        let mut random = Random::new(n as u64);
        (0..n).map(|_| random.normal()).collect()
    }

    fn naive(signal: &[f64], k: usize) -> Complex64 {
        let n = signal.len();
        signal.iter().enumerate().map(|(i, x)| x * Complex64::cis(-2.0 * PI * ((i * k) % n) as f64 / n as f64)).sum()
    }

    #[test]
    fn agrees_with_the_defining_sum_for_even_odd_and_prime_lengths() {
        for n in [1, 2, 3, 4, 5, 6, 8, 10, 12, 31, 64, 97, 100, 101, 240] {
            let signal = noise(n);
            let lines = real_forward(&signal);
            assert_eq!(lines.len(), n / 2 + 1);
            // Error of a transform grows like ε·log N; the naive sum like ε·N. 1e-12 × N covers both.
            for (k, line) in lines.iter().enumerate() {
                assert!((line - naive(&signal, k)).norm() < 1e-13 * (n as f64 + 10.0), "n {n}, line {k}");
            }
        }
    }

    #[test]
    fn the_inverse_gives_the_signal_back() {
        for n in [1, 2, 3, 4, 7, 16, 30, 97, 1000, 1001] {
            let signal = noise(n);
            let back = real_inverse(&real_forward(&signal), n);
            assert_eq!(back.len(), n);
            for (a, b) in signal.iter().zip(&back) {
                assert!((a - b).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn fast_lengths() {
        assert_eq!([0, 1, 7, 1025, 48_001].map(fast_length), [1, 1, 8, 1080, 48_600]);
    }

    #[test]
    fn nothing_in_gives_nothing_out() {
        assert!(real_forward(&[]).is_empty());
        assert!(real_inverse(&[], 0).is_empty());
        complex_forward(&mut []);
        complex_inverse(&mut []);
    }
}
