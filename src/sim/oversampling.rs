//! From the converter's samples to a smooth voltage, and from there to polynomials within a step.

use super::energy_system::SOURCE_TERMS;

/// Fine samples that describe the voltage within one step: half before its middle, half after.
pub const WINDOW: usize = 12;
/// Converter samples that each phase of the reconstruction filter looks at.
const TAPS: usize = 48;
/// Kaiser's β; 12.3 gives a stop band of about −120 dB (Kaiser's design formula: A = β/0.1102 + 8.7).
const KAISER_BETA: f64 = 12.3;
/// Middle of the transition band against the converter's rate. At 48 kHz it reaches from 20 to 28 kHz.
const CUT: f64 = 0.5;

/// Raises the rate by a whole factor with a linear-phase filter.
#[derive(Clone, Debug)]
pub struct Interpolator {
    phases: Vec<[f64; TAPS]>,
    history: [f64; TAPS],
}

impl Interpolator {
    /// An interpolator by `factor`; its delay is [`Interpolator::DELAY`] samples of the low rate.
    pub fn new(factor: usize) -> Interpolator {
        let length = (TAPS * factor) as f64;
        let centre = length / 2.0;
        let tap = |n: usize| -> f64 {
            let t = (n as f64 - centre) / factor as f64;
            let inside = 1.0 - (2.0 * (n as f64 - centre) / length).powi(2);
            let window = bessel_i0(KAISER_BETA * inside.max(0.0).sqrt()) / bessel_i0(KAISER_BETA);
            2.0 * CUT * sinc(2.0 * CUT * t) * window
        };
        let phases = (0..factor).map(|p| std::array::from_fn(|k| tap(k * factor + p))).collect();
        Interpolator { phases, history: [0.0; TAPS] }
    }

    /// Delay in samples of the low rate.
    pub const DELAY: usize = TAPS / 2;

    /// Takes one sample and gives `factor` fine ones to `each`.
    pub fn push(&mut self, sample: f64, mut each: impl FnMut(f64)) {
        self.history.copy_within(0..TAPS - 1, 1);
        self.history[0] = sample;
        for phase in &self.phases {
            each(phase.iter().zip(&self.history).map(|(h, x)| h * x).sum());
        }
    }
}

fn sinc(x: f64) -> f64 {
    if x == 0.0 {
        1.0
    } else {
        (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x)
    }
}

/// Modified Bessel function of order zero, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..60 {
        term *= (x / (2.0 * f64::from(k))).powi(2);
        sum += term;
    }
    sum
}

/// Weights that turn twelve fine samples into the coefficients of s^0 … s^5 within the middle step.
///
/// The polynomial of degree 11 through the samples is projected on degree 5 in the mean-square sense. At a tenth of the
/// fine rate (20 kHz of 192, θ = 0.65) the twelfth difference leaves (231/2^22) θ^12 ≈ 3e-7 of the voltage at worst.
pub fn polynomial_weights() -> [[f64; WINDOW]; SOURCE_TERMS] {
    let mut weights = [[0.0; WINDOW]; SOURCE_TERMS];
    for (j, lagrange) in (0..WINDOW).map(|j| (j, lagrange_polynomial(j))) {
        for (m, legendre) in SHIFTED_LEGENDRE.iter().enumerate() {
            let part = (2 * m + 1) as f64 * integral_of_product(&lagrange, legendre);
            for (power, coefficient) in legendre.iter().enumerate() {
                weights[power][j] += part * coefficient;
            }
        }
    }
    weights
}

/// Shifted Legendre polynomials on [0, 1], coefficients of rising powers.
const SHIFTED_LEGENDRE: [[f64; SOURCE_TERMS]; SOURCE_TERMS] = [
    [1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [-1.0, 2.0, 0.0, 0.0, 0.0, 0.0],
    [1.0, -6.0, 6.0, 0.0, 0.0, 0.0],
    [-1.0, 12.0, -30.0, 20.0, 0.0, 0.0],
    [1.0, -20.0, 90.0, -140.0, 70.0, 0.0],
    [-1.0, 30.0, -210.0, 560.0, -630.0, 252.0],
];

/// Coefficients of the polynomial that is one at node j and zero at the others; nodes at −3 … 4.
fn lagrange_polynomial(j: usize) -> [f64; WINDOW] {
    let node = |k: usize| k as f64 - (WINDOW / 2 - 1) as f64;
    let mut polynomial = [0.0; WINDOW];
    polynomial[0] = 1.0;
    for k in (0..WINDOW).filter(|k| *k != j) {
        let scale = 1.0 / (node(j) - node(k));
        for power in (0..WINDOW).rev() {
            let lower = if power > 0 { polynomial[power - 1] } else { 0.0 };
            polynomial[power] = (lower - node(k) * polynomial[power]) * scale;
        }
    }
    polynomial
}

/// ∫₀¹ p q ds.
fn integral_of_product(p: &[f64], q: &[f64]) -> f64 {
    let mut sum = 0.0;
    for (a, pa) in p.iter().enumerate() {
        for (b, qb) in q.iter().enumerate() {
            sum += pa * qb / (a + b + 1) as f64;
        }
    }
    sum
}
