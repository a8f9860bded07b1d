//! Small dense matrices, row by row.

use std::ops::{Index, IndexMut};

/// Real matrix of `rows × columns`, stored row by row.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Matrix {
    rows: usize,
    columns: usize,
    data: Vec<f64>,
}

impl Matrix {
    /// All zero, of the given shape.
    pub fn zeros(rows: usize, columns: usize) -> Self {
        Matrix { rows, columns, data: vec![0.0; rows * columns] }
    }

    /// Ones on the diagonal.
    pub fn identity(size: usize) -> Self {
        Self::diagonal(&vec![1.0; size])
    }

    /// The given values on the diagonal.
    pub fn diagonal(values: &[f64]) -> Self {
        let mut matrix = Self::zeros(values.len(), values.len());
        for (i, value) in values.iter().enumerate() {
            matrix[(i, i)] = *value;
        }
        matrix
    }

    /// From rows of equal length; a short row is filled with zeros, a long one is cut to the length of the first.
    pub fn from_rows<R: AsRef<[f64]>>(rows: &[R]) -> Self {
        let columns = rows.first().map_or(0, |row| row.as_ref().len());
        let mut matrix = Self::zeros(rows.len(), columns);
        for (i, row) in rows.iter().enumerate() {
            for (target, value) in matrix.row_mut(i).iter_mut().zip(row.as_ref()) {
                *target = *value;
            }
        }
        matrix
    }

    /// Gives the matrix a new shape and fills it with zeros, keeping the memory.
    pub fn reset(&mut self, rows: usize, columns: usize) {
        self.rows = rows;
        self.columns = columns;
        self.data.clear();
        self.data.resize(rows * columns, 0.0);
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of columns.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// One row, counted from 0.
    pub fn row(&self, i: usize) -> &[f64] {
        &self.data[i * self.columns..(i + 1) * self.columns]
    }

    /// One row, counted from 0, to be changed.
    pub fn row_mut(&mut self, i: usize) -> &mut [f64] {
        &mut self.data[i * self.columns..(i + 1) * self.columns]
    }

    /// One column, counted from 0, copied out.
    pub fn column(&self, j: usize) -> Vec<f64> {
        self.data.chunks_exact(self.columns.max(1)).map(|row| row[j]).collect()
    }

    /// All values, row by row.
    pub fn values(&self) -> &[f64] {
        &self.data
    }

    /// Appends a row; its length must be the number of columns (the first row of an empty matrix sets it).
    pub fn push_row(&mut self, row: &[f64]) {
        if self.rows == 0 {
            self.columns = row.len();
        }
        assert_eq!(row.len(), self.columns, "a row of the wrong length");
        self.data.extend_from_slice(row);
        self.rows += 1;
    }

    /// Rows and columns exchanged.
    pub fn transposed(&self) -> Matrix {
        let mut out = Matrix::zeros(self.columns, self.rows);
        for i in 0..self.rows {
            for j in 0..self.columns {
                out[(j, i)] = self[(i, j)];
            }
        }
        out
    }

    /// Product with another matrix; the inner sizes must agree.
    pub fn times(&self, other: &Matrix) -> Matrix {
        assert_eq!(self.columns, other.rows, "shapes do not fit");
        let mut out = Matrix::zeros(self.rows, other.columns);
        for i in 0..self.rows {
            for (k, a) in self.row(i).iter().enumerate() {
                for (target, b) in out.row_mut(i).iter_mut().zip(other.row(k)) {
                    *target += a * b;
                }
            }
        }
        out
    }

    /// Product with a vector of as many entries as there are columns.
    pub fn times_vector(&self, vector: &[f64]) -> Vec<f64> {
        assert_eq!(self.columns, vector.len(), "shapes do not fit");
        (0..self.rows).map(|i| self.row(i).iter().zip(vector).map(|(a, b)| a * b).sum()).collect()
    }

    /// Every entry multiplied.
    pub fn scaled(&self, factor: f64) -> Matrix {
        Matrix { rows: self.rows, columns: self.columns, data: self.data.iter().map(|x| x * factor).collect() }
    }

    /// Correlations of a covariance matrix; zero where a variance is zero or not finite, one on the diagonal.
    pub fn correlations(&self) -> Matrix {
        let mut out = Matrix::identity(self.rows);
        for i in 0..self.rows {
            for j in 0..self.columns {
                let scale = (self[(i, i)] * self[(j, j)]).sqrt();
                if i != j {
                    out[(i, j)] = if scale > 0.0 && scale.is_finite() { self[(i, j)] / scale } else { 0.0 };
                }
            }
        }
        out
    }
}

impl Index<(usize, usize)> for Matrix {
    type Output = f64;
    fn index(&self, (i, j): (usize, usize)) -> &f64 {
        &self.data[i * self.columns + j]
    }
}

impl IndexMut<(usize, usize)> for Matrix {
    fn index_mut(&mut self, (i, j): (usize, usize)) -> &mut f64 {
        &mut self.data[i * self.columns + j]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn products_and_transposition() {
        let a = Matrix::from_rows(&[[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]);
        let b = a.times(&a.transposed());
        assert_eq!(b, Matrix::from_rows(&[[14.0, 32.0], [32.0, 77.0]]));
        assert_eq!(a.times_vector(&[1.0, 0.0, -1.0]), vec![-2.0, -2.0]);
        assert_eq!(a.column(1), vec![2.0, 5.0]);
    }

    #[test]
    fn correlation_of_a_covariance() {
        let c = Matrix::from_rows(&[[4.0, 3.0], [3.0, 9.0]]).correlations();
        assert_eq!(c[(0, 1)], 0.5);
        assert_eq!(c[(1, 1)], 1.0);
        assert_eq!(Matrix::zeros(2, 2).correlations()[(0, 1)], 0.0);
    }
}
