//! Discrete Fourier transform of any length: the one place that transforms.
//!
//! Scale and order, fixed here for everybody: `X[k] = Σ x[n] e^(−2πi kn/N)` forwards, unscaled; the inverse carries 1/N.
//! Real signals give the one-sided spectrum `k = 0 ..= N/2`. Plans and twiddle factors are kept per thread.
//! Even-length real signals go through a complex transform of half the length (textbook packing of even and odd samples).

mod plan;

use plan::{Plan, Roots};
use std::cell::RefCell;
use std::rc::Rc;

/// Double-precision complex number.
pub use num_complex::Complex64;

/// Plans kept at most; a session uses a handful of lengths.
const PLANS_KEPT: usize = 16;

#[derive(Default)]
struct Plans {
    complex: Vec<Rc<Plan>>,
    /// e^(−2πi k/n) for k = 0 ..= n/4, for each even real length n; the rest follows by symmetry in the caller.
    twiddles: Vec<(usize, Rc<Vec<Complex64>>)>,
}

thread_local! {
    static PLANS: RefCell<Plans> = RefCell::default();
}

/// The kept entry that fits, or a new one; the oldest makes room.
fn kept<T: Clone>(list: &mut Vec<T>, fits: impl Fn(&T) -> bool, make: impl FnOnce() -> T) -> T {
    if let Some(found) = list.iter().find(|entry| fits(entry)) {
        return found.clone();
    }
    if list.len() >= PLANS_KEPT {
        list.remove(0);
    }
    let entry = make();
    list.push(entry.clone());
    entry
}

fn plan(n: usize) -> Rc<Plan> {
    PLANS.with_borrow_mut(|plans| kept(&mut plans.complex, |plan| plan.length == n, || Rc::new(Plan::new(n))))
}

fn twiddles(n: usize) -> Rc<Vec<Complex64>> {
    let make = || {
        let roots = Roots::new(n);
        (n, Rc::new((0..=n / 4).map(|k| roots.at(k)).collect()))
    };
    PLANS.with_borrow_mut(|plans| kept(&mut plans.twiddles, |(length, _)| *length == n, make)).1
}

/// e^(−2πi k/n) for any k, to half a unit of the last digit and without a sine for each; `n` above 0.
pub fn circle(n: usize) -> impl Fn(usize) -> Complex64 {
    let roots = Roots::new(n);
    move |k| roots.at(k)
}

/// Forward transform in place, unscaled. Any length, zero included.
pub fn complex_forward(buffer: &mut [Complex64]) {
    if buffer.len() > 1 {
        plan(buffer.len()).forward(buffer, &mut Vec::new());
    }
}

/// Inverse transform in place, scaled by 1/N so that it undoes [`complex_forward`].
pub fn complex_inverse(buffer: &mut [Complex64]) {
    // With real and imaginary parts exchanged before and after, the forward transform goes backwards.
    let scale = 1.0 / buffer.len() as f64;
    for value in buffer.iter_mut() {
        *value = Complex64::new(value.im, value.re);
    }
    complex_forward(buffer);
    for value in buffer {
        *value = Complex64::new(value.im * scale, value.re * scale);
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
    let twiddles = twiddles(n);
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
    let twiddles = twiddles(n);
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
    use std::f64::consts::PI;

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
