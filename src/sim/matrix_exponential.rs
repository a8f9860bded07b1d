//! Exponential of a square matrix by scaling and squaring with a Taylor series (Golub & Van Loan, Matrix Computations,
//! section on the matrix exponential).

/// Row-major square matrix exponential: e^A.
///
/// The norm is halved until below 1/4; twelve terms then leave less than (1/4)^13/13! ≈ 2e-18.
pub fn exponential(a: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = a.len();
    let norm = a.iter().map(|row| row.iter().map(|v| v.abs()).sum::<f64>()).fold(0.0, f64::max);
    let halvings = if norm > 0.25 { (norm / 0.25).log2().ceil() as i32 } else { 0 };
    let factor = 0.5f64.powi(halvings);
    let scaled: Vec<Vec<f64>> = a.iter().map(|row| row.iter().map(|v| v * factor).collect()).collect();
    let mut sum = identity(n);
    let mut term = identity(n);
    for k in 1..=12 {
        term = product(&term, &scaled);
        for (t, s) in term.iter_mut().flatten().zip(sum.iter_mut().flatten()) {
            *t /= f64::from(k);
            *s += *t;
        }
    }
    for _ in 0..halvings {
        sum = product(&sum, &sum);
    }
    sum
}

fn identity(n: usize) -> Vec<Vec<f64>> {
    (0..n).map(|r| (0..n).map(|c| if r == c { 1.0 } else { 0.0 }).collect()).collect()
}

fn product(a: &[Vec<f64>], b: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = a.len();
    let mut out = vec![vec![0.0; n]; n];
    for (row, out_row) in a.iter().zip(out.iter_mut()) {
        for (value, b_row) in row.iter().zip(b) {
            if *value != 0.0 {
                for (o, v) in out_row.iter_mut().zip(b_row) {
                    *o += value * v;
                }
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::exponential;

    #[test]
    fn a_rotation_turns_by_its_angle() {
        // exp([[0, -θ], [θ, 0]]) is the rotation by θ.
        let theta = 2.5f64;
        let e = exponential(&[vec![0.0, -theta], vec![theta, 0.0]]);
        for (found, wanted) in [(e[0][0], theta.cos()), (e[0][1], -theta.sin()), (e[1][0], theta.sin())] {
            assert!((found - wanted).abs() < 1e-14);
        }
    }

    #[test]
    fn a_stiff_decay_dies_and_a_nilpotent_matrix_stays_polynomial() {
        let e = exponential(&[vec![-5000.0, 0.0], vec![0.0, -1.0]]);
        assert!(e[0][0].abs() < 1e-300 && (e[1][1] - (-1f64).exp()).abs() < 1e-12);
        let p = exponential(&[vec![0.0, 3.0], vec![0.0, 0.0]]);
        assert_eq!(p, vec![vec![1.0, 3.0], vec![0.0, 1.0]]);
    }
}
