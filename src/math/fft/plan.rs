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
        match self.radix {
            2 => self.rows(from, to, |[a, b]| [a + b, a - b]),
            3 => self.rows(from, to, odd::<3, 1>),
            4 => self.rows(from, to, four),
            5 => self.rows(from, to, odd::<5, 2>),
            _ => self.rows(from, to, odd::<7, 3>),
        }
    }

    fn rows<const R: usize>(
        &self,
        from: &[Complex64],
        to: &mut [Complex64],
        butterfly: impl Fn([Complex64; R]) -> [Complex64; R],
    ) {
        let (stride, part) = (self.stride, from.len() / R);
        let rows = to.chunks_exact_mut(stride * R).zip(self.twiddles.chunks_exact(R - 1));
        for (row, (to, twiddles)) in rows.enumerate() {
            // Slices of known length leave no bounds to be checked in the inner loop.
            let inputs: [&[Complex64]; R] = std::array::from_fn(|k| &from[k * part + row * stride..][..stride]);
            let mut rest = to;
            let outputs: [&mut [Complex64]; R] = std::array::from_fn(|_| {
                let (this, after) = std::mem::take(&mut rest).split_at_mut(stride);
                rest = after;
                this
            });
            for i in 0..stride {
                let values = butterfly(std::array::from_fn(|k| inputs[k][i]));
                outputs[0][i] = values[0];
                for k in 1..R {
                    outputs[k][i] = values[k] * twiddles[k - 1];
                }
            }
        }
    }
}

#[inline(always)]
fn four([a, b, c, d]: [Complex64; 4]) -> [Complex64; 4] {
    let (sum, difference) = (a + c, a - c);
    let (other, turned) = (b + d, Complex64::new(b.im - d.im, d.re - b.re));
    [sum + other, difference + turned, sum - other, difference - turned]
}

/// Butterfly of an odd radix R = 2 H + 1: pairs of inputs that lie opposite share their cosines and sines.
#[inline(always)]
fn odd<const R: usize, const H: usize>(x: [Complex64; R]) -> [Complex64; R] {
    let (cos, sin) = angles(R);
    let sums: [Complex64; H] = std::array::from_fn(|k| x[k + 1] + x[R - 1 - k]);
    let differences: [Complex64; H] = std::array::from_fn(|k| x[k + 1] - x[R - 1 - k]);
    let mut y = [x[0]; R];
    for sum in sums {
        y[0] += sum;
    }
    for j in 1..=H {
        let (mut even, mut across) = (x[0], Complex64::default());
        for k in 1..=H {
            even += sums[k - 1] * cos[j * k % R];
            across += differences[k - 1] * sin[j * k % R];
        }
        let turned = Complex64::new(across.im, -across.re);
        y[j] = even + turned;
        y[R - j] = even - turned;
    }
    y
}

/// cos and sin of 2π k/R.
#[inline(always)]
#[rustfmt::skip]
const fn angles(radix: usize) -> (&'static [f64], &'static [f64]) {
    match radix {
        3 => (
            &[1.0, -0.5, -0.5],
            &[0.0, 0.866_025_403_784_438_6, -0.866_025_403_784_438_6],
        ),
        5 => (
            &[1.0, 0.309_016_994_374_947_45, -0.809_016_994_374_947_5, -0.809_016_994_374_947_5, 0.309_016_994_374_947_45],
            &[0.0, 0.951_056_516_295_153_5, 0.587_785_252_292_473_1, -0.587_785_252_292_473_1, -0.951_056_516_295_153_5],
        ),
        _ => (
            &[1.0, 0.623_489_801_858_733_5, -0.222_520_933_956_314_4, -0.900_968_867_902_419_1,
              -0.900_968_867_902_419_1, -0.222_520_933_956_314_4, 0.623_489_801_858_733_5],
            &[0.0, 0.781_831_482_468_029_8, 0.974_927_912_181_823_6, 0.433_883_739_117_558_1,
              -0.433_883_739_117_558_1, -0.974_927_912_181_823_6, -0.781_831_482_468_029_8],
        ),
    }
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
