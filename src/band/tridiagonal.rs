//! The likelihood of one set of readings under many sizes of one covariance.
//!
//! The readings have the covariance `I + s A`, where only the number `s` changes from belief to belief. Turning the axes once so that `A`
//! becomes tridiagonal (its diagonal and the places beside it) makes every further `s` cheap.

/// Readings and their covariance, on axes turned so that only the diagonal of the covariance and its neighbours are not zero.
///
/// With `Q` orthogonal and `T = Q A Qᵀ` tridiagonal, `I + s A` has the determinant of `I + s T`, and
/// `yᵀ (I + s A)⁻¹ y = zᵀ (I + s T)⁻¹ z` with `z = Q y`. Turning costs some `4/3 n³` once; every size `s` after it costs `n`.
///
/// # References
/// Householder's reflections: Golub & Van Loan, Matrix Computations, 4th edition, algorithm 8.3.1.
#[derive(Debug, Clone)]
pub struct Tridiagonal {
    diagonal: Vec<f64>,
    /// `beside[i]` stands between places `i` and `i + 1`.
    beside: Vec<f64>,
    readings: Vec<f64>,
}

impl Tridiagonal {
    /// Turns several symmetric matrices (`n` by `n`, all of it) side by side, each with a copy of the readings.
    pub(crate) fn new<const N: usize>(mut matrix: Vec<[f64; N]>, readings: &[f64]) -> [Self; N] {
        let n = readings.len();
        let mut readings: Vec<[f64; N]> = readings.iter().map(|&reading| [reading; N]).collect();
        let mut diagonal = Vec::with_capacity(n);
        let mut beside = Vec::with_capacity(n);
        let (mut mirror, mut drawn) = (Vec::with_capacity(n), Vec::with_capacity(n));
        for k in 0..n {
            diagonal.push(matrix[k * n + k]);
            let from = k + 1;
            if from == n {
                break;
            }
            // The reflection that makes all of this row zero beyond its neighbour.
            mirror.clear();
            mirror.extend_from_slice(&matrix[k * n + from..(k + 1) * n]);
            let size2 = dot(&mirror, &mirror);
            let mut left = [0.0; N];
            for ((left, size2), first) in left.iter_mut().zip(size2).zip(&mut mirror[0]) {
                let size = size2.sqrt();
                *left = if *first > 0.0 { -size } else { size };
                *first -= *left;
            }
            beside.push(left);
            // Where the row is zero already there is nothing to reflect.
            let twice = dot(&mirror, &mirror).map(|size2| match size2 <= 0.0 {
                true => 0.0,
                false => 2.0 / size2,
            });
            let rows = |i: usize| i * n + from..(i + 1) * n;
            drawn.clear();
            drawn.extend((from..n).map(|i| times(twice, dot(&matrix[rows(i)], &mirror))));
            let along = times(twice.map(|twice| 0.5 * twice), dot(&drawn, &mirror));
            for (drawn, mirror) in drawn.iter_mut().zip(&mirror) {
                take(drawn, times(along, *mirror));
            }
            for i in from..n {
                let (own, pull) = (mirror[i - from], drawn[i - from]);
                let row = matrix[rows(i)].iter_mut();
                for ((value, mirror), drawn) in row.zip(&mirror).zip(&drawn) {
                    for l in 0..N {
                        value[l] -= own[l] * drawn[l] + pull[l] * mirror[l];
                    }
                }
            }
            let turned = times(twice, dot(&readings[from..], &mirror));
            for (reading, mirror) in readings[from..].iter_mut().zip(&mirror) {
                take(reading, times(turned, *mirror));
            }
        }
        std::array::from_fn(|l| {
            let own = |values: &[[f64; N]]| values.iter().map(|value| value[l]).collect();
            Tridiagonal {
                diagonal: own(&diagonal),
                beside: own(&beside),
                readings: own(&readings),
            }
        })
    }

    /// Natural logarithm of the normal density of the readings when their covariance is `I + size A`, without the constant `-n/2 ln 2π`;
    /// minus infinity where that matrix is no covariance.
    pub(crate) fn log_density(&self, size: f64) -> f64 {
        let (squares, log_determinant) = self.parts(size);
        -0.5 * (squares + log_determinant)
    }

    /// The two parts of that logarithm: `yᵀ (I + size A)⁻¹ y` and `ln |I + size A|`; both infinite where it is no covariance.
    pub(crate) fn parts(&self, size: f64) -> (f64, f64) {
        // The matrix is factored as L D Lᵀ, and only the latest entry of D is kept. Logarithms are slow, so several entries are
        // multiplied before one is taken.
        const LARGE: f64 = 1e100;
        let (mut product, mut squares, mut log) = (1.0f64, 0.0, 0.0);
        let (mut pivot, mut solved) = (1.0, 0.0);
        for (i, (diagonal, reading)) in self.diagonal.iter().zip(&self.readings).enumerate() {
            let beside = match i.checked_sub(1).and_then(|before| self.beside.get(before)) {
                Some(beside) => size * beside,
                None => 0.0,
            };
            let factor = beside / pivot;
            pivot = 1.0 + size * diagonal - factor * beside;
            if pivot.is_nan() || pivot <= 0.0 {
                return (f64::INFINITY, f64::INFINITY);
            }
            solved = reading - factor * solved;
            squares += solved * solved / pivot;
            product *= pivot;
            if product > LARGE {
                log += product.ln();
                product = 1.0;
            }
        }
        (squares, log + product.ln())
    }
}

/// The dot products of several pairs of vectors side by side.
fn dot<const N: usize>(a: &[[f64; N]], b: &[[f64; N]]) -> [f64; N] {
    let mut sum = [0.0; N];
    for (a, b) in a.iter().zip(b) {
        for l in 0..N {
            sum[l] += a[l] * b[l];
        }
    }
    sum
}

/// Products, number by number.
fn times<const N: usize>(a: [f64; N], b: [f64; N]) -> [f64; N] {
    std::array::from_fn(|l| a[l] * b[l])
}

/// Subtracts, number by number.
fn take<const N: usize>(from: &mut [f64; N], off: [f64; N]) {
    for (from, off) in from.iter_mut().zip(off) {
        *from -= off;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// The same density by plain elimination, column after column: the determinant is the product of the pivots.
    fn plainly(matrix: &[f64], readings: &[f64], size: f64) -> f64 {
        let n = readings.len();
        let mut rows: Vec<Vec<f64>> = (0..n)
            .map(|i| {
                let mut row: Vec<f64> = (0..n)
                    .map(|j| size * matrix[i * n + j] + f64::from(u8::from(i == j)))
                    .collect();
                row.push(readings[i]);
                row
            })
            .collect();
        for k in 0..n {
            for i in k + 1..n {
                let pivot = rows[k].clone();
                let factor = rows[i][k] / pivot[k];
                for (value, pivot) in rows[i].iter_mut().zip(pivot) {
                    *value -= factor * pivot;
                }
            }
        }
        let mut solved = vec![0.0; n];
        for i in (0..n).rev() {
            let rest: f64 = (i + 1..n).map(|j| rows[i][j] * solved[j]).sum();
            solved[i] = (rows[i][n] - rest) / rows[i][i];
        }
        let log: f64 = (0..n).map(|i| rows[i][i].ln()).sum();
        let square: f64 = readings.iter().zip(&solved).map(|(a, b)| a * b).sum();
        -0.5 * (log + square)
    }

    #[test]
    fn is_the_density_that_elimination_gives() {
        for n in [1usize, 2, 3, 7, 24] {
            // Points strung out unevenly: correlated, and some hardly at all.
            let matrix: Vec<f64> = (0..n * n)
                .map(|k| {
                    let (i, j) = (k / n, k % n);
                    let apart = (i * i) as f64 - (j * j) as f64;
                    let sign = if (i + j) % 3 == 0 { -1.0 } else { 1.0 };
                    let size = (1 + i % 4) as f64 * (1 + j % 4) as f64;
                    match i == j {
                        true => size,
                        false => 0.4 * sign * size * (-apart.abs() / 20.0).exp() / n as f64,
                    }
                })
                .collect();
            let readings: Vec<f64> = (0..n).map(|i| (1.7 * i as f64).sin() * 3.0).collect();
            // Beside it one of another size, and one without correlation.
            let abreast = matrix.iter().enumerate().map(|(k, &value)| {
                let alone = if k % (n + 1) == 0 { value } else { 0.0 };
                [value, 0.3 * value, alone]
            });
            let abreast: Vec<[f64; 3]> = abreast.collect();
            let turned = Tridiagonal::new(abreast.clone(), &readings);
            for (l, turned) in turned.iter().enumerate() {
                let matrix: Vec<f64> = abreast.iter().map(|values| values[l]).collect();
                for size in [0.0, 1e-3, 1.0, 40.0, 1e7] {
                    assert_relative_eq!(
                        turned.log_density(size),
                        plainly(&matrix, &readings, size),
                        max_relative = 1e-12
                    );
                }
            }
        }
    }

    #[test]
    fn what_is_no_covariance_has_no_density() {
        let [turned] = Tridiagonal::new(vec![[1.0], [3.0], [3.0], [1.0]], &[0.1, 0.2]);
        assert_eq!(turned.log_density(1.0), f64::NEG_INFINITY);
        assert!(turned.log_density(0.1).is_finite());
    }

    #[test]
    fn readings_without_correlation_are_as_they_were() {
        let [turned] = Tridiagonal::new(vec![[0.0]; 9], &[1.0, 2.0, 3.0]);
        assert_relative_eq!(turned.log_density(5.0), -7.0);
    }
}
