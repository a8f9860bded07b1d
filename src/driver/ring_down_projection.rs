//! Projection onto the columns of a small tall matrix, the linear half of variable projection.
//!
//! Orthonormal columns by modified Gram-Schmidt done twice, which is as good as Householder for the few, well separated
//! columns met here (Giraud, Langou, Rozloznik 2005: twice is enough). Columns that hold nothing new are left out.

/// Columns made orthonormal, with the triangle that leads back to the coefficients.
#[derive(Clone, Debug)]
pub(super) struct Projection {
    orthonormal: Vec<Vec<f64>>,
    triangle: Vec<Vec<f64>>,
    kept: Vec<usize>,
    columns: usize,
}

/// A column shorter than this part of its former self holds nothing that the columns before it do not.
const DEPENDENT: f64 = 1e-9;

impl Projection {
    /// Takes over the columns (each of the same length).
    pub(super) fn new(columns: &[Vec<f64>]) -> Self {
        let mut p = Projection {
            orthonormal: Vec::with_capacity(columns.len()),
            triangle: Vec::with_capacity(columns.len()),
            kept: Vec::with_capacity(columns.len()),
            columns: columns.len(),
        };
        for (index, column) in columns.iter().enumerate() {
            p.push(index, column.clone());
        }
        p
    }

    fn push(&mut self, index: usize, mut column: Vec<f64>) {
        let before = norm(&column);
        if before.is_nan() || before <= 0.0 {
            return;
        }
        let mut shares = vec![0.0; self.orthonormal.len()];
        for _ in 0..2 {
            for (share, q) in shares.iter_mut().zip(&self.orthonormal) {
                let s = dot(q, &column);
                subtract(&mut column, s, q);
                *share += s;
            }
        }
        let after = norm(&column);
        if after <= DEPENDENT * before {
            return;
        }
        column.iter_mut().for_each(|v| *v /= after);
        shares.push(after);
        self.orthonormal.push(column);
        self.triangle.push(shares);
        self.kept.push(index);
    }

    /// Number of columns that count.
    pub(super) fn rank(&self) -> usize {
        self.kept.len()
    }

    /// What the columns cannot explain of `y`.
    pub(super) fn residual(&self, y: &[f64]) -> Vec<f64> {
        let mut r = y.to_vec();
        self.clear(&mut r);
        r
    }

    /// Takes what the columns explain off `y`.
    pub(super) fn clear(&self, y: &mut [f64]) {
        for q in &self.orthonormal {
            let s = dot(q, y);
            subtract(y, s, q);
        }
    }

    /// Least-squares coefficients of `y`, one for each column given; nought for columns left out.
    pub(super) fn coefficients(&self, y: &[f64]) -> Vec<f64> {
        let mut shares: Vec<f64> = self.orthonormal.iter().map(|q| dot(q, y)).collect();
        for i in (0..shares.len()).rev() {
            shares[i] /= self.triangle[i][i];
            for j in 0..i {
                shares[j] -= self.triangle[i][j] * shares[i];
            }
        }
        let mut out = vec![0.0; self.columns];
        for (k, s) in self.kept.iter().zip(shares) {
            out[*k] = s;
        }
        out
    }
}

/// Scalar product.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Euclidean length.
pub(super) fn norm(a: &[f64]) -> f64 {
    dot(a, a).sqrt()
}

fn subtract(target: &mut [f64], factor: f64, direction: &[f64]) {
    for (t, d) in target.iter_mut().zip(direction) {
        *t -= factor * d;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coefficients_and_residual_of_a_line_through_three_points() {
        // Normal equations by hand: y = 1/6 + x/2 at x = 0, 1, 2 with y = 0, 1, 1.
        let columns = [vec![1.0, 1.0, 1.0], vec![0.0, 1.0, 2.0]];
        let p = Projection::new(&columns);
        let c = p.coefficients(&[0.0, 1.0, 1.0]);
        let r = p.residual(&[0.0, 1.0, 1.0]);
        assert!((c[0] - 1.0 / 6.0).abs() < 1e-14 && (c[1] - 0.5).abs() < 1e-14, "{c:?}");
        assert!((r[1] - 1.0 / 3.0).abs() < 1e-14, "{r:?}");
    }

    #[test]
    fn a_column_that_repeats_another_is_left_out() {
        let columns = [vec![1.0, 2.0, 3.0], vec![2.0, 4.0, 6.0], vec![0.0, 1.0, 0.0]];
        let p = Projection::new(&columns);
        assert_eq!(p.rank(), 2);
        assert_eq!(p.coefficients(&[1.0, 2.0, 3.0])[1], 0.0);
    }
}
