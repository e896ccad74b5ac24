//! Small dense matrices: as much linear algebra as an adjustment of a few dozen corners needs.
//!
//! A library would bring generics, SIMD and a page of features for what is one factorisation here. The largest matrix is twice as wide as
//! there are corners. Where an edge has hundreds of them it matters that each reading depends on few, so that multiplying passes over
//! zeros.

/// A dense matrix, row after row. Reading or writing outside it is a programming error and reads as zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Matrix {
    rows: usize,
    columns: usize,
    cells: Vec<f64>,
}

impl Matrix {
    #[must_use]
    pub fn zero(rows: usize, columns: usize) -> Matrix {
        Matrix {
            rows,
            columns,
            cells: vec![0.0; rows * columns],
        }
    }

    pub fn from_fn(rows: usize, columns: usize, value: impl Fn(usize, usize) -> f64) -> Matrix {
        let cells = (0..rows * columns)
            .map(|k| value(k / columns.max(1), k % columns.max(1)))
            .collect();
        Matrix {
            rows,
            columns,
            cells,
        }
    }

    #[must_use]
    pub fn diagonal(values: &[f64]) -> Matrix {
        Matrix::from_fn(values.len(), values.len(), |i, j| {
            if i == j { values[i] } else { 0.0 }
        })
    }

    pub(crate) fn rows(&self) -> usize {
        self.rows
    }

    pub(crate) fn columns(&self) -> usize {
        self.columns
    }

    /// The cell in this row and column; 0 outside of the matrix.
    #[must_use]
    pub fn at(&self, row: usize, column: usize) -> f64 {
        if column < self.columns {
            let cell = self.cells.get(row * self.columns + column);
            cell.copied().unwrap_or(0.0)
        } else {
            0.0
        }
    }

    pub(crate) fn transpose(&self) -> Matrix {
        Matrix::from_fn(self.columns, self.rows, |i, j| self.at(j, i))
    }

    /// The rows from this one on.
    fn rows_from(&self, row: usize) -> impl Iterator<Item = &[f64]> {
        let cells = self.cells.get(row * self.columns..).unwrap_or(&[]);
        cells.chunks_exact(self.columns.max(1))
    }

    /// The product `self * other`. Zeros in `self` cost nothing, as a reading depends on few of the points.
    pub(crate) fn times(&self, other: &Matrix) -> Matrix {
        let mut product = Matrix::zero(self.rows, other.columns);
        let sums = product.cells.chunks_exact_mut(other.columns.max(1));
        for (row, sums) in self.rows_from(0).zip(sums) {
            for (&factor, others) in row.iter().zip(other.rows_from(0)) {
                if factor == 0.0 {
                    continue;
                }
                crate::steps::count(other.columns.div_ceil(A_STEP));
                for (sum, cell) in sums.iter_mut().zip(others) {
                    *sum += factor * cell;
                }
            }
        }
        product
    }

    #[must_use]
    pub fn times_vector(&self, vector: &[f64]) -> Vec<f64> {
        crate::steps::count((self.rows * self.columns).div_ceil(A_STEP));
        let rows = self.rows_from(0);
        rows.map(|row| dot(row, vector)).collect()
    }

    pub(crate) fn plus(&self, other: &Matrix) -> Matrix {
        Matrix::from_fn(self.rows, self.columns, |i, j| {
            self.at(i, j) + other.at(i, j)
        })
    }

    pub(crate) fn minus(&self, other: &Matrix) -> Matrix {
        Matrix::from_fn(self.rows, self.columns, |i, j| {
            self.at(i, j) - other.at(i, j)
        })
    }

    pub(crate) fn scaled(&self, factor: f64) -> Matrix {
        Matrix::from_fn(self.rows, self.columns, |i, j| self.at(i, j) * factor)
    }

    /// The number `a' M b`, where `M` is this matrix: with a covariance, the covariance of two linear functions.
    #[must_use]
    pub fn between(&self, a: &[f64], b: &[f64]) -> f64 {
        dot(a, &self.times_vector(b))
    }

    pub(crate) fn is_finite(&self) -> bool {
        self.cells.iter().all(|v| v.is_finite())
    }

    /// The lower triangle `L` with `L L' = self`, or `None` where the matrix isn't positive definite.
    #[must_use]
    pub fn cholesky(&self) -> Option<Cholesky> {
        let n = self.rows;
        if n != self.columns {
            return None;
        }
        let mut lower = Matrix::zero(n, n);
        for j in 0..n {
            let (done, below) = lower.cells.split_at_mut((j + 1) * n);
            let own = done.get_mut(j * n..=j * n + j).unwrap_or(&mut []);
            let (corner, own) = own.split_last_mut()?;
            let own = &*own;
            let rest = self.at(j, j) - dot(own, own);
            if rest.is_nan() || rest <= self.at(j, j).abs() * f64::EPSILON {
                return None;
            }
            *corner = rest.sqrt();
            crate::steps::count(((n - j) * j).div_ceil(A_STEP));
            // Four rows side by side, so that the processor need not wait for one sum before the next.
            for (rows, i) in below.chunks_mut(4 * n).zip((j + 1..).step_by(4)) {
                let sums = abreast(rows, n, own);
                for ((row, sum), i) in rows.chunks_exact_mut(n).zip(sums).zip(i..) {
                    if let Some(cell) = row.get_mut(j) {
                        *cell = (self.at(i, j) - sum) / *corner;
                    }
                }
            }
        }
        Some(Cholesky { lower })
    }
}

/// A Cholesky factor: the lower triangular matrix whose product with its transpose is the matrix, with which equations are quickly
/// solved.
#[derive(Debug, Clone)]
pub struct Cholesky {
    lower: Matrix,
}

impl Cholesky {
    #[must_use]
    pub fn lower(&self) -> &Matrix {
        &self.lower
    }

    /// `x` with `L L' x = b`.
    pub(crate) fn solve(&self, b: &[f64]) -> Vec<f64> {
        let n = self.lower.rows;
        let mut y = vec![0.0; n];
        for i in 0..n {
            let known: f64 = (0..i).map(|k| self.lower.at(i, k) * y[k]).sum();
            y[i] = (b[i] - known) / self.lower.at(i, i);
        }
        for i in (0..n).rev() {
            let known: f64 = (i + 1..n).map(|k| self.lower.at(k, i) * y[k]).sum();
            y[i] = (y[i] - known) / self.lower.at(i, i);
        }
        y
    }

    /// The inverse of the factored matrix.
    pub(crate) fn inverse(&self) -> Matrix {
        let n = self.lower.rows;
        let columns: Vec<Vec<f64>> = (0..n)
            .map(|j| {
                let unit: Vec<f64> = (0..n).map(|i| if i == j { 1.0 } else { 0.0 }).collect();
                self.solve(&unit)
            })
            .collect();
        Matrix::from_fn(n, n, |i, j| columns[j][i])
    }
}

/// How many multiplications count as one step of work, so that it takes about as long as other steps.
const A_STEP: usize = 64;

/// The product of `own` with each of up to four rows of `n` cells.
fn abreast(rows: &[f64], n: usize, own: &[f64]) -> [f64; 4] {
    let mut each = rows.chunks_exact(n);
    let [a, b, c, d] = std::array::from_fn(|_| each.next().unwrap_or(&[]));
    let mut sums = [0.0; 4];
    if d.is_empty() {
        for (sum, row) in sums.iter_mut().zip([a, b, c]) {
            *sum = dot(row, own);
        }
        return sums;
    }
    for ((((own, a), b), c), d) in own.iter().zip(a).zip(b).zip(c).zip(d) {
        for (sum, cell) in sums.iter_mut().zip([a, b, c, d]) {
            *sum += cell * own;
        }
    }
    sums
}

/// Dot product of two vectors; what one has beyond the other's length does not count.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_factor_multiplies_back_and_its_inverse_undoes_it() {
        let m = Matrix::from_fn(4, 4, |i, j| {
            1.0 / (1.0 + i as f64 + j as f64) + if i == j { 1.0 } else { 0.0 }
        });
        let c = m.cholesky().expect("positive definite");
        let back = c.lower().times(&c.lower().transpose());
        let one = m.times(&c.inverse());
        for i in 0..4 {
            for j in 0..4 {
                assert_relative_eq!(back.at(i, j), m.at(i, j), epsilon = 1e-14);
                assert_relative_eq!(
                    one.at(i, j),
                    if i == j { 1.0 } else { 0.0 },
                    epsilon = 1e-13
                );
            }
        }
    }

    #[test]
    fn what_cannot_be_factored_is_refused() {
        let flat = Matrix::from_fn(2, 2, |_, _| 1.0);
        assert!(flat.cholesky().is_none());
        let sick = Matrix::from_fn(2, 2, |_, _| f64::NAN);
        assert!(sick.cholesky().is_none());
    }
}
