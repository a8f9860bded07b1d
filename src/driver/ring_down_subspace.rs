//! A first look at the free motions in a ring: poles from the signal subspace, no start values needed.
//!
//! Method: the signal subspace of the Hankel matrix is invariant under a shift by one sample (Kung 1978; ESPRIT, Roy and
//! Kailath 1989). Its basis comes from the eigenvectors of the small covariance matrix, the poles are the eigenvalues of the
//! shift restricted to it. Squaring into a covariance costs half the digits, which a start for least squares can spare.
//! Valid range: 40 to a few hundred samples at 8 to 40 samples a period.

use super::ring_down_projection::{dot, Projection};
use crate::math::fft::Complex64;
use crate::math::order::arranged;

/// One damped sinusoid found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct FreeMotion {
    /// Natural frequency in Hz.
    pub frequency_hz: f64,
    /// 1/(2ζ); below 0.5 the motion does not ring.
    pub q: f64,
    /// Amplitude at the first sample.
    pub amplitude: f64,
    /// Part of the samples' energy that this motion holds, 0 to about 1.
    pub energy_share: f64,
    /// Part of the samples' energy that all motions found explain together, 0 to 1.
    pub explained: f64,
}

/// Damped sinusoids in the samples, the strongest first. `order` poles are looked for (two for each sinusoid).
/// Undamped lines (mains) and real poles take part in the model and are left out of the answer.
pub(super) fn free_motions(samples: &[f64], rate_hz: f64, order: usize) -> Vec<FreeMotion> {
    let width = (samples.len() / 3).min(30);
    if width < order + 2 {
        return Vec::new();
    }
    let basis = signal_basis(samples, width, order);
    let Some(shift) = shift_matrix(&basis) else { return Vec::new() };
    let poles = roots(&characteristic_polynomial(&shift));
    arranged(energies(samples, rate_hz, &poles), |motion| -motion.energy_share)
}

/// Eigenvectors of the covariance of `width` neighbouring samples that belong to the `order` greatest eigenvalues.
fn signal_basis(samples: &[f64], width: usize, order: usize) -> Vec<Vec<f64>> {
    let windows = samples.len() - width + 1;
    let mut covariance = vec![vec![0.0; width]; width];
    for i in 0..width {
        for j in 0..=i {
            let sum = dot(&samples[i..i + windows], &samples[j..j + windows]);
            covariance[i][j] = sum;
            covariance[j][i] = sum;
        }
    }
    let (values, vectors) = symmetric_eigen(covariance);
    let rising = crate::math::order::order(&values);
    rising.iter().rev().take(order).map(|k| vectors.iter().map(|row| row[*k]).collect()).collect()
}

/// Eigenvalues and eigenvectors (columns) of a symmetric matrix by cyclic Jacobi rotations.
fn symmetric_eigen(mut a: Vec<Vec<f64>>) -> (Vec<f64>, Vec<Vec<f64>>) {
    let n = a.len();
    let mut v: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    let total: f64 = a.iter().map(|row| dot(row, row)).sum();
    for _ in 0..30 {
        let off: f64 = (0..n).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| a[i][j] * a[i][j]).sum();
        if off <= 1e-26 * total {
            break;
        }
        for p in 0..n {
            for q in p + 1..n {
                rotate(&mut a, &mut v, p, q);
            }
        }
    }
    ((0..n).map(|i| a[i][i]).collect(), v)
}

fn rotate(a: &mut [Vec<f64>], v: &mut [Vec<f64>], p: usize, q: usize) {
    if a[p][q] == 0.0 {
        return;
    }
    let theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
    let t = theta.signum() / (theta.abs() + theta.hypot(1.0));
    let c = 1.0 / t.hypot(1.0);
    let s = t * c;
    let turn = |x: f64, y: f64| (c * x - s * y, s * x + c * y);
    for row in a.iter_mut().chain(v.iter_mut()) {
        (row[p], row[q]) = turn(row[p], row[q]);
    }
    let (upper, lower) = a.split_at_mut(q);
    for (x, y) in upper[p].iter_mut().zip(lower[0].iter_mut()) {
        (*x, *y) = turn(*x, *y);
    }
}

/// The matrix that leads from the basis without its last row to the basis without its first, by least squares.
fn shift_matrix(basis: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let rows = basis.first()?.len();
    let upper: Vec<Vec<f64>> = basis.iter().map(|c| c[..rows - 1].to_vec()).collect();
    let projection = Projection::new(&upper);
    let columns: Vec<Vec<f64>> = basis.iter().map(|c| projection.coefficients(&c[1..])).collect();
    let n = columns.len();
    Some((0..n).map(|i| (0..n).map(|j| columns[j][i]).collect()).collect())
}

/// Coefficients (leading one first) by the recursion of Faddeev and Leverrier; fit for a handful of rows.
fn characteristic_polynomial(a: &[Vec<f64>]) -> Vec<f64> {
    let n = a.len();
    let mut coefficients = vec![1.0];
    let mut m = vec![vec![0.0; n]; n];
    for k in 1..=n {
        let last = coefficients[k - 1];
        for (i, row) in m.iter_mut().enumerate() {
            row[i] += last;
        }
        m = (0..n).map(|i| (0..n).map(|j| (0..n).map(|l| a[i][l] * m[l][j]).sum()).collect()).collect();
        let trace: f64 = (0..n).map(|i| m[i][i]).sum();
        coefficients.push(-trace / k as f64);
    }
    coefficients
}

/// All roots at once (Durand 1960, Kerner 1966).
fn roots(polynomial: &[f64]) -> Vec<Complex64> {
    let n = polynomial.len() - 1;
    let mut z: Vec<Complex64> = (0..n).map(|k| Complex64::new(0.4, 0.9).powu(k as u32)).collect();
    for _ in 0..200 {
        let mut moved = 0.0_f64;
        for k in 0..n {
            let value = polynomial.iter().fold(Complex64::new(0.0, 0.0), |sum, c| sum * z[k] + c);
            let others = (0..n).filter(|j| *j != k).fold(Complex64::new(1.0, 0.0), |p, j| p * (z[k] - z[j]));
            let step = value / others;
            if step.is_finite() {
                z[k] -= step;
                moved = moved.max(step.norm());
            }
        }
        if moved < 1e-13 {
            break;
        }
    }
    z
}

/// Fits the amplitudes of all poles together and keeps the damped sinusoids.
fn energies(samples: &[f64], rate_hz: f64, poles: &[Complex64]) -> Vec<FreeMotion> {
    let usable: Vec<Complex64> =
        poles.iter().copied().filter(|z| z.im >= -1e-9 && z.norm() > 1e-3 && z.norm() < 1.02).collect();
    let mut columns = Vec::new();
    for z in &usable {
        let mut state = Complex64::new(1.0, 0.0);
        let (mut even, mut odd) = (Vec::with_capacity(samples.len()), Vec::with_capacity(samples.len()));
        for _ in samples {
            even.push(state.re);
            odd.push(state.im);
            state *= z;
        }
        columns.extend([even, odd]);
    }
    let projection = Projection::new(&columns);
    let amplitudes = projection.coefficients(samples);
    let total = dot(samples, samples).max(f64::MIN_POSITIVE);
    let left = projection.residual(samples);
    let explained = 1.0 - dot(&left, &left) / total;
    usable
        .iter()
        .enumerate()
        .filter_map(|(k, z)| {
            let (c, s) = (amplitudes[2 * k], amplitudes[2 * k + 1]);
            let energy: f64 =
                columns[2 * k].iter().zip(&columns[2 * k + 1]).map(|(x, y)| (c * x + s * y).powi(2)).sum();
            let (alpha, omega) = (-z.norm().ln() * rate_hz, z.arg() * rate_hz);
            let natural = alpha.hypot(omega);
            // A ring of Q 100 and more is a line of the mains or a tone, not a cone.
            let rings = omega > 0.0 && alpha > 0.0 && natural / (2.0 * alpha) < 100.0;
            rings.then(|| FreeMotion {
                frequency_hz: natural / std::f64::consts::TAU,
                q: natural / (2.0 * alpha),
                amplitude: c.hypot(s),
                energy_share: energy / total,
                explained,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Free vibration written out (textbook form), sampled at 16 samples a period.
    fn ring(f: f64, q: f64, phase: f64, t: f64) -> f64 {
        let w = 2.0 * PI * f;
        (-w / (2.0 * q) * t).exp() * (w * (1.0 - 0.25 / (q * q)).sqrt() * t + phase).cos()
    }

    #[test]
    fn finds_a_ring_beside_a_constant_a_drift_and_hum() {
        let rate = 480.0;
        let samples: Vec<f64> = (0..160)
            .map(|n| n as f64 / rate)
            .map(|t| ring(30.0, 5.0, 0.7, t) + 0.02 + 0.1 * (-50.0 * t).exp() + 0.01 * (2.0 * PI * 50.0 * t).sin())
            .collect();
        let found = free_motions(&samples, rate, 8);
        assert!((found[0].frequency_hz - 30.0).abs() < 0.003 && (found[0].q - 5.0).abs() < 0.003, "{found:?}");
    }

    #[test]
    fn finds_both_of_two_modes() {
        let rate = 640.0;
        let samples: Vec<f64> = (0..160)
            .map(|n| n as f64 / rate)
            .map(|t| ring(28.0, 4.0, 0.0, t) + 0.3 * ring(41.0, 8.0, 1.0, t))
            .collect();
        let found = free_motions(&samples, rate, 6);
        assert!((found[0].frequency_hz - 28.0).abs() < 0.01, "{found:?}");
        assert!((found[1].frequency_hz - 41.0).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn silence_and_too_few_samples_hold_nothing() {
        assert!(free_motions(&[0.0; 100], 480.0, 6).is_empty());
        assert!(free_motions(&[1.0, 0.5, 0.2], 480.0, 6).is_empty());
    }
}
