//! Linear least squares: Householder QR with scaled and pivoted columns.
//!
//! Minimises |Ax − b|². Reference: Golub and Van Loan, Matrix Computations, Householder QR with column pivoting
//! (textbook method). Columns are scaled to unit length first, so that the rank decision does not depend on units.

use super::fft::Complex64;
use super::matrix::Matrix;
use super::vectors::{add_scaled, dot};
use thiserror::Error;

/// Why a system could not be solved.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum LeastSquaresError {
    /// The right side does not fit the matrix.
    #[error("{rows} rows, but {found} right-hand values")]
    Shape {
        /// Rows of the matrix.
        rows: usize,
        /// Values given.
        found: usize,
    },
    /// Fewer equations than unknowns, or none at all.
    #[error("{rows} equations for {columns} unknowns")]
    TooFewRows {
        /// Equations.
        rows: usize,
        /// Unknowns.
        columns: usize,
    },
    /// An entry that is not a finite number.
    #[error("an entry is not a finite number")]
    NotFinite,
}

/// Solution of a linear least-squares problem of m equations and n unknowns.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// The n unknowns; those that the equations do not determine are zero.
    pub x: Vec<f64>,
    /// (AᵀA)⁻¹, n × n; times the variance of the noise it is the covariance of `x`.
    /// All infinite where the rank is short: then no unknown is known by itself.
    pub covariance_unscaled: Matrix,
    /// |Ax − b|².
    pub residual_sum_of_squares: f64,
    /// Number of independent columns.
    pub rank: usize,
    /// m − rank.
    pub degrees_of_freedom: usize,
}

impl Solution {
    /// Standard errors of the unknowns, scaled by the residual (zero where nothing is left over; infinite where undetermined).
    pub fn standard_errors(&self) -> Vec<f64> {
        let variance = self.residual_sum_of_squares / self.degrees_of_freedom.max(1) as f64;
        (0..self.x.len())
            .map(|i| {
                let c = self.covariance_unscaled[(i, i)];
                if c.is_finite() {
                    (c * variance).sqrt()
                } else {
                    f64::INFINITY
                }
            })
            .collect()
    }
}

/// QR factors of a matrix with scaled, pivoted columns: `A D P = Q R`.
#[derive(Clone, Debug)]
pub struct Factors {
    /// By columns, because all the work goes along them: Householder vectors below, R on and above the diagonal.
    packed: Vec<Vec<f64>>,
    /// 2/|v|² of each Householder vector, zero where none was needed.
    beta: Vec<f64>,
    /// Column of A that stands at each place.
    order: Vec<usize>,
    /// Length of each column of A.
    lengths: Vec<f64>,
    rank: usize,
}

impl Factors {
    /// Factors an m × n matrix; any shape with finite entries. The rank counts diagonal entries of R above
    /// max(m, n)·ε times the largest.
    pub fn new(matrix: &Matrix) -> Self {
        let (m, n) = (matrix.rows(), matrix.columns());
        let mut packed: Vec<Vec<f64>> = (0..n).map(|j| matrix.column(j)).collect();
        let lengths: Vec<f64> = packed.iter().map(|column| dot(column, column).sqrt()).collect();
        for (column, length) in packed.iter_mut().zip(&lengths) {
            let scale = 1.0 / scale_of(*length);
            column.iter_mut().for_each(|value| *value *= scale);
        }
        let steps = m.min(n);
        let mut factors = Factors { packed, beta: vec![0.0; steps], order: (0..n).collect(), lengths, rank: 0 };
        for k in 0..steps {
            let length = factors.pivot(k);
            factors.reflect(k, length);
        }
        let largest = if steps > 0 { factors.packed[0][0].abs() } else { 0.0 };
        let floor = largest * m.max(n) as f64 * f64::EPSILON;
        factors.rank = (0..steps).take_while(|&k| factors.packed[k][k].abs() > floor).count();
        factors
    }

    /// Number of independent columns.
    pub fn rank(&self) -> usize {
        self.rank
    }

    /// Length of each column of A.
    pub fn lengths(&self) -> &[f64] {
        &self.lengths
    }

    /// Brings the longest remaining column to place k; its length from there on.
    fn pivot(&mut self, k: usize) -> f64 {
        let (mut best, mut longest) = (k, f64::NEG_INFINITY);
        for (j, column) in self.packed.iter().enumerate().skip(k) {
            let length = dot(&column[k..], &column[k..]);
            if length > longest {
                (best, longest) = (j, length);
            }
        }
        self.order.swap(best, k);
        self.packed.swap(best, k);
        longest.sqrt()
    }

    /// Householder reflection that clears column k, of this length from there on, below the diagonal.
    fn reflect(&mut self, k: usize, length: f64) {
        if length == 0.0 {
            return;
        }
        let (done, others) = self.packed.split_at_mut(k + 1);
        let column = &mut done[k];
        let head = column[k];
        let alpha = if head > 0.0 { -length } else { length };
        let v0 = head - alpha;
        // The vector is stored scaled so that its first entry is 1 and need not be kept.
        column[k + 1..].iter_mut().for_each(|value| *value /= v0);
        self.beta[k] = -v0 / alpha;
        column[k] = alpha;
        for other in others {
            reflect_one(other, k, column, self.beta[k]);
        }
    }

    /// Qᵀb; the first `rank` entries belong to the unknowns, the rest is residual. `b` has m entries.
    pub fn rotate(&self, b: &[f64]) -> Vec<f64> {
        let mut out = b.to_vec();
        for (k, beta) in self.beta.iter().enumerate() {
            reflect_one(&mut out, k, &self.packed[k], *beta);
        }
        out
    }

    /// R in the order and the scale of the original columns: n × n with RᵀR = AᵀA (not triangular after reordering).
    pub fn root(&self) -> Matrix {
        let n = self.packed.len();
        let mut out = Matrix::zeros(n, n);
        for k in 0..self.beta.len() {
            for j in k..n {
                let column = self.order[j];
                out[(k, column)] = self.packed[j][k] * scale_of(self.lengths[column]);
            }
        }
        out
    }

    /// Unknowns from Qᵀb (at least `rank` entries), undetermined ones zero.
    pub fn back_substitute(&self, rotated: &[f64]) -> Vec<f64> {
        let mut scaled = vec![0.0; self.rank];
        for k in (0..self.rank).rev() {
            let known: f64 = (k + 1..self.rank).map(|j| self.packed[j][k] * scaled[j]).sum();
            scaled[k] = (rotated[k] - known) / self.packed[k][k];
        }
        let mut x = vec![0.0; self.packed.len()];
        for (value, &column) in scaled.iter().zip(&self.order) {
            x[column] = value / scale_of(self.lengths[column]);
        }
        x
    }

    /// (AᵀA)⁻¹, all infinite where the rank is short.
    pub fn covariance(&self) -> Matrix {
        let n = self.packed.len();
        if self.rank < n {
            let mut out = Matrix::zeros(n, n);
            (0..n).for_each(|i| out.row_mut(i).fill(f64::INFINITY));
            return out;
        }
        // Columns of R⁻¹, each in the place and scale of the unknowns; the covariance is R⁻¹R⁻ᵀ.
        let mut inverse = Matrix::zeros(n, n);
        for k in 0..n {
            let mut unit = vec![0.0; n];
            unit[k] = 1.0;
            for (i, value) in self.back_substitute(&unit).into_iter().enumerate() {
                inverse[(i, k)] = value;
            }
        }
        inverse.times(&inverse.transposed())
    }
}

/// By what a column of this length was divided: one that is all zero stays as it is.
fn scale_of(length: f64) -> f64 {
    if length > 0.0 {
        length
    } else {
        1.0
    }
}

/// What the Householder vector below the diagonal of `column` k does to another column.
fn reflect_one(other: &mut [f64], k: usize, column: &[f64], beta: f64) {
    let sum = (other[k] + dot(&column[k + 1..], &other[k + 1..])) * beta;
    other[k] -= sum;
    add_scaled(&mut other[k + 1..], -sum, &column[k + 1..]);
}

/// Length of each column.
pub fn column_norms(matrix: &Matrix) -> Vec<f64> {
    let mut sums = vec![0.0; matrix.columns()];
    for i in 0..matrix.rows() {
        for (sum, value) in sums.iter_mut().zip(matrix.row(i)) {
            *sum += value * value;
        }
    }
    sums.into_iter().map(f64::sqrt).collect()
}

/// Solves min |Ax − b|² for an m × n matrix (m ≥ n ≥ 1) and m right-hand values.
///
/// # Errors
/// [`LeastSquaresError`] when shapes do not fit, equations are too few, or an entry is not finite. A short rank is no error:
/// see [`Solution::rank`].
pub fn solve(a: &Matrix, b: &[f64]) -> Result<Solution, LeastSquaresError> {
    let (m, n) = (a.rows(), a.columns());
    if b.len() != m {
        return Err(LeastSquaresError::Shape { rows: m, found: b.len() });
    }
    if n == 0 || m < n {
        return Err(LeastSquaresError::TooFewRows { rows: m, columns: n });
    }
    if !a.values().iter().chain(b).all(|v| v.is_finite()) {
        return Err(LeastSquaresError::NotFinite);
    }
    let factors = Factors::new(a);
    let mut x = factors.back_substitute(&factors.rotate(b));
    // One step of refinement: takes the error of an ill-conditioned system down by about the condition number times ε.
    let residual = residuals(a, &x, b);
    for (value, correction) in x.iter_mut().zip(factors.back_substitute(&factors.rotate(&residual))) {
        *value += correction;
    }
    let residual_sum_of_squares = residuals(a, &x, b).iter().map(|r| r * r).sum();
    let rank = factors.rank();
    Ok(Solution {
        x,
        covariance_unscaled: factors.covariance(),
        residual_sum_of_squares,
        rank,
        degrees_of_freedom: m - rank,
    })
}

/// b − Ax.
fn residuals(a: &Matrix, x: &[f64], b: &[f64]) -> Vec<f64> {
    a.times_vector(x).iter().zip(b).map(|(fitted, given)| given - fitted).collect()
}

/// Solves min |Ax − b|² for complex equations with real unknowns: real and imaginary parts are stacked.
/// `rows[i]` holds the n complex coefficients of equation i. Degrees of freedom count both parts.
///
/// # Errors
/// As [`solve`].
pub fn solve_complex(rows: &[Vec<Complex64>], b: &[Complex64]) -> Result<Solution, LeastSquaresError> {
    let parts = |pick: fn(&Complex64) -> f64| rows.iter().map(move |row| row.iter().map(pick).collect::<Vec<f64>>());
    let stacked: Vec<Vec<f64>> = parts(|z| z.re).chain(parts(|z| z.im)).collect();
    let right: Vec<f64> = b.iter().map(|z| z.re).chain(b.iter().map(|z| z.im)).collect();
    solve(&Matrix::from_rows(&stacked), &right)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_by_hand() {
        // y = 1 + 2x with residuals (0.1, -0.2, 0.1) orthogonal to both columns at x = -1, 0, 1.
        let a = Matrix::from_rows(&[[1.0, -1.0], [1.0, 0.0], [1.0, 1.0]]);
        let s = solve(&a, &[-0.9, 0.8, 3.1]).expect("solvable");
        assert!((s.x[0] - 1.0).abs() < 1e-14 && (s.x[1] - 2.0).abs() < 1e-14);
        assert!((s.residual_sum_of_squares - 0.06).abs() < 1e-14);
        // (AᵀA)⁻¹ = diag(1/3, 1/2), one degree of freedom.
        assert!((s.standard_errors()[0] - (0.06_f64 / 3.0).sqrt()).abs() < 1e-14);
        assert!((s.standard_errors()[1] - (0.06_f64 / 2.0).sqrt()).abs() < 1e-14);
    }

    #[test]
    fn dependent_columns_show_in_the_rank() {
        let a = Matrix::from_rows(&[[1.0, 2.0], [2.0, 4.0], [3.0, 6.0]]);
        let s = solve(&a, &[1.0, 2.0, 3.0]).expect("solvable");
        assert_eq!(s.rank, 1);
        assert!(s.standard_errors()[0].is_infinite());
        assert!(s.residual_sum_of_squares < 1e-28);
    }

    #[test]
    fn complex_equations_with_real_unknowns() {
        let i = Complex64::i();
        let rows = vec![vec![Complex64::new(1.0, 0.0), i], vec![Complex64::new(1.0, 0.0), 2.0 * i]];
        let b = [Complex64::new(3.0, 0.5), Complex64::new(3.0, 1.0)];
        let s = solve_complex(&rows, &b).expect("solvable");
        assert!((s.x[0] - 3.0).abs() < 1e-14 && (s.x[1] - 0.5).abs() < 1e-14);
        assert_eq!(s.degrees_of_freedom, 2);
    }

    #[test]
    fn wrong_shapes_are_errors() {
        let a = Matrix::zeros(2, 3);
        assert!(matches!(solve(&a, &[0.0; 2]), Err(LeastSquaresError::TooFewRows { .. })));
        assert!(matches!(solve(&a, &[0.0; 3]), Err(LeastSquaresError::Shape { .. })));
        assert_eq!(solve(&Matrix::from_rows(&[[f64::NAN]]), &[1.0]), Err(LeastSquaresError::NotFinite));
    }
}
