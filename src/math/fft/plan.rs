//! Plan of one complex transform: self-sorting passes after Stockham of radix 4, 2, 3, 5 and 7; a length with a greater
//! prime factor goes through a convolution with a chirp after Bluestein.
//!
//! Written here and not taken from a library because every visit of the page pays for it: a planner for all lengths and
//! machines is forty times as large. The tests hold it against such a library and against the defining sum.

use super::{fast_length, Complex64};
use std::f64::consts::PI;

/// All that can be computed once for a length.
pub struct Plan {
    pub length: usize,
    passes: Vec<Pass>,
    chirp: Option<Box<Chirp>>,
}

/// One pass: `length / radix` butterflies, of which `stride` in a row have their twiddles in common.
struct Pass {
    radix: usize,
    stride: usize,
    /// `radix − 1` for each row of butterflies.
    twiddles: Vec<Complex64>,
}

struct Chirp {
    /// e^(−iπ k²/n).
    wave: Vec<Complex64>,
    /// Transform of its conjugate, wrapped around, over the inner length.
    spectrum: Vec<Complex64>,
    inner: Plan,
}

impl Plan {
    pub fn new(length: usize) -> Plan {
        let roots = Roots::new(length);
        let (mut rest, mut stride, mut passes) = (length, 1, Vec::new());
        for radix in [4, 2, 3, 5, 7] {
            while rest > 1 && rest % radix == 0 {
                rest /= radix;
                let angle = |i: usize| stride * (i / (radix - 1)) * (i % (radix - 1) + 1);
                let twiddles = (0..rest_of(length, stride, radix) * (radix - 1)).map(|i| roots.at(angle(i))).collect();
                passes.push(Pass { radix, stride, twiddles });
                stride *= radix;
            }
        }
        let chirp = (rest > 1).then(|| Box::new(Chirp::new(length)));
        Plan { length, passes, chirp }
    }

    /// Forward transform in place, unscaled; `scratch` may be of any length.
    pub fn forward(&self, data: &mut [Complex64], scratch: &mut Vec<Complex64>) {
        if let Some(chirp) = &self.chirp {
            return chirp.forward(data, scratch);
        }
        scratch.resize(self.length, Complex64::default());
        let (mut from, mut to): (&mut [Complex64], &mut [Complex64]) = (data, scratch);
        for pass in &self.passes {
            pass.run(from, to);
            std::mem::swap(&mut from, &mut to);
        }
        if self.passes.len() % 2 == 1 {
            to.copy_from_slice(from);
        }
    }
}

fn rest_of(length: usize, stride: usize, radix: usize) -> usize {
    length / stride / radix
}

impl Pass {
    fn run(&self, from: &[Complex64], to: &mut [Complex64]) {
        let pass = match self.radix {
            2 => by_two,
            3 => by_three,
            4 => by_four,
            5 => by_five,
            _ => by_seven,
        };
        pass(from, to, self.stride, &self.twiddles);
    }
}

/// The pass of a radix, its butterfly and its factors written out one by one: a build for size leaves a short loop over
/// them as a loop, and that costs half of the speed. `$k` counts the factors, `$x` and `$y` are in and out.
macro_rules! pass {
    ($name:ident, $radix:literal, $butterfly:expr, $x0:ident $y0:ident $(, $k:literal $x:ident $y:ident)+) => {
        fn $name(from: &[Complex64], to: &mut [Complex64], stride: usize, twiddles: &[Complex64]) {
            let part = from.len() / $radix;
            let rows = to.chunks_exact_mut(stride * $radix).zip(twiddles.chunks_exact($radix - 1));
            for (row, (to, w)) in rows.enumerate() {
                // Slices of known length leave no bounds to be checked in the inner loop.
                let from = &from[row * stride..];
                let $x0 = &from[..stride];
                $(let $x = &from[$k * part..][..stride];)+
                let ($y0, to) = to.split_at_mut(stride);
                $(let ($y, to) = to.split_at_mut(stride);)+
                debug_assert!(to.is_empty());
                for i in 0..stride {
                    let values = $butterfly([$x0[i] $(, $x[i])+]);
                    $y0[i] = values[0];
                    $($y[i] = values[$k] * w[$k - 1];)+
                }
            }
        }
    };
}

pass!(by_two, 2, two, a p, 1 b q);
pass!(by_three, 3, three, a p, 1 b q, 2 c r);
pass!(by_four, 4, four, a p, 1 b q, 2 c r, 3 d s);
pass!(by_five, 5, five, a p, 1 b q, 2 c r, 3 d s, 4 e t);
pass!(by_seven, 7, seven, a p, 1 b q, 2 c r, 3 d s, 4 e t, 5 f u, 6 g v);

#[inline(always)]
fn two([a, b]: [Complex64; 2]) -> [Complex64; 2] {
    [a + b, a - b]
}

#[inline(always)]
fn three([a, b, c]: [Complex64; 3]) -> [Complex64; 3] {
    let sum = b + c;
    let (even, across) = (a - sum * 0.5, (b - c) * 0.866_025_403_784_438_6);
    [a + sum, even + turned(across), even - turned(across)]
}

#[inline(always)]
fn four([a, b, c, d]: [Complex64; 4]) -> [Complex64; 4] {
    let (sum, difference) = (a + c, a - c);
    let (other, turned) = (b + d, turned(b - d));
    [sum + other, difference + turned, sum - other, difference - turned]
}

/// Pairs of inputs that lie opposite share their cosines and sines, here and below.
#[inline(always)]
fn five([a, b, c, d, e]: [Complex64; 5]) -> [Complex64; 5] {
    const COS: [f64; 2] = [0.309_016_994_374_947_45, -0.809_016_994_374_947_5];
    const SIN: [f64; 2] = [0.951_056_516_295_153_5, 0.587_785_252_292_473_1];
    let (near, far) = (b + e, c + d);
    let (near_apart, far_apart) = (b - e, c - d);
    let first = a + near * COS[0] + far * COS[1];
    let second = a + near * COS[1] + far * COS[0];
    let first_turned = turned(near_apart * SIN[0] + far_apart * SIN[1]);
    let second_turned = turned(near_apart * SIN[1] - far_apart * SIN[0]);
    [a + near + far, first + first_turned, second + second_turned, second - second_turned, first - first_turned]
}

#[inline(always)]
fn seven(x: [Complex64; 7]) -> [Complex64; 7] {
    const COS: [f64; 3] = [0.623_489_801_858_733_5, -0.222_520_933_956_314_4, -0.900_968_867_902_419_1];
    const SIN: [f64; 3] = [0.781_831_482_468_029_8, 0.974_927_912_181_823_6, 0.433_883_739_117_558_1];
    let sums = [x[1] + x[6], x[2] + x[5], x[3] + x[4]];
    let apart = [x[1] - x[6], x[2] - x[5], x[3] - x[4]];
    // Line j takes the angles j, 2j, 3j of seven: cosines and signed sines by their place in the tables.
    let even = |i: usize, j: usize, k: usize| x[0] + sums[0] * COS[i] + sums[1] * COS[j] + sums[2] * COS[k];
    let (e1, e2, e3) = (even(0, 1, 2), even(1, 2, 0), even(2, 0, 1));
    let o1 = turned(apart[0] * SIN[0] + apart[1] * SIN[1] + apart[2] * SIN[2]);
    let o2 = turned(apart[0] * SIN[1] - apart[1] * SIN[2] - apart[2] * SIN[0]);
    let o3 = turned(apart[0] * SIN[2] - apart[1] * SIN[0] + apart[2] * SIN[1]);
    [x[0] + sums[0] + sums[1] + sums[2], e1 + o1, e2 + o2, e3 + o3, e3 - o3, e2 - o2, e1 - o1]
}

/// A quarter turn backwards: times −i.
#[inline(always)]
fn turned(z: Complex64) -> Complex64 {
    Complex64::new(z.im, -z.re)
}

impl Chirp {
    fn new(length: usize) -> Chirp {
        let roots = Roots::new(2 * length);
        let wave: Vec<Complex64> = (0..length).map(|k| roots.at(k * k)).collect();
        let inner = Plan::new(fast_length(2 * length - 1));
        let scale = 1.0 / inner.length as f64;
        let mut spectrum = vec![Complex64::default(); inner.length];
        for (k, value) in wave.iter().enumerate() {
            spectrum[k] = value.conj() * scale;
            spectrum[(inner.length - k) % inner.length] = spectrum[k];
        }
        inner.forward(&mut spectrum, &mut Vec::new());
        Chirp { wave, spectrum, inner }
    }

    fn forward(&self, data: &mut [Complex64], scratch: &mut Vec<Complex64>) {
        let mut long: Vec<Complex64> = data.iter().zip(&self.wave).map(|(x, w)| x * w).collect();
        long.resize(self.inner.length, Complex64::default());
        self.inner.forward(&mut long, scratch);
        // The way back is the forward transform between two conjugations.
        for (value, s) in long.iter_mut().zip(&self.spectrum) {
            *value = (*value * s).conj();
        }
        self.inner.forward(&mut long, scratch);
        for ((x, w), value) in data.iter_mut().zip(&self.wave).zip(&long) {
            *x = value.conj() * w;
        }
    }
}

/// e^(−2πi k/n) for every k, from two short tables: sines are dear, one product costs half a unit of the last digit.
pub struct Roots {
    length: usize,
    shift: u32,
    fine: Vec<Complex64>,
    coarse: Vec<Complex64>,
}

impl Roots {
    pub fn new(length: usize) -> Roots {
        let shift = length.max(1).ilog2() / 2 + 1;
        let table = |count: usize, step: usize| {
            (0..count).map(|k| Complex64::cis(-2.0 * PI * (k * step) as f64 / length as f64)).collect()
        };
        Roots { length, shift, fine: table(1 << shift, 1), coarse: table((length >> shift) + 1, 1 << shift) }
    }

    pub fn at(&self, k: usize) -> Complex64 {
        let k = k % self.length;
        self.coarse[k >> self.shift] * self.fine[k & ((1 << self.shift) - 1)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    fn noise(n: usize) -> Vec<Complex64> {
        let mut random = Random::new(n as u64);
        (0..n).map(|_| Complex64::new(random.normal(), random.normal())).collect()
    }

    /// Against rustfft. Rounding of a transform of length n is at most 4 ε log₂ n of its spectrum in the root mean square
    /// (Higham, Accuracy and Stability of Numerical Algorithms, theorem 24.2, from memory); a chirp makes three
    /// transforms of up to four times the length, and there are two libraries: 24 ε log₂ 4n.
    #[test]
    fn agrees_with_a_general_library() {
        let mut planner = rustfft::FftPlanner::new();
        let periods =
            [44_100, 48_000, 96_000, 88_200, 120_000, 240_000, 16_807, 65_536, 59_049, 78_125, 10_007, 30_030];
        for n in (1..400).chain(periods) {
            let (mut ours, mut scratch) = (noise(n), Vec::new());
            let mut theirs = ours.clone();
            Plan::new(n).forward(&mut ours, &mut scratch);
            planner.plan_fft_forward(n).process(&mut theirs);
            let norm = |values: &mut dyn Iterator<Item = Complex64>| values.map(|z| z.norm_sqr()).sum::<f64>().sqrt();
            let error = norm(&mut ours.iter().zip(&theirs).map(|(a, b)| a - b)) / norm(&mut theirs.iter().copied());
            assert!(error < 24.0 * f64::EPSILON * (4.0 * n as f64).log2(), "{n}: {error:e}");
        }
    }
}
