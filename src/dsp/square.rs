//! Small square matrices of complex numbers: product, inverse, solution of one equation.
//!
//! Takes matrices row by row, gives the same. Elimination with row pivoting, or the root of a Hermitian matrix; a pivot that
//! vanishes gives `None`. The one place for such work: channels of a bin are few, so nothing is blocked.

use realfft::num_complex::Complex64;

/// A square matrix, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Square {
    n: usize,
    cells: Vec<Complex64>,
}

impl Square {
    /// All cells 0.
    pub fn zero(n: usize) -> Self {
        Self { n, cells: vec![Complex64::default(); n * n] }
    }

    /// Ones on the diagonal.
    pub fn identity(n: usize) -> Self {
        let mut square = Self::zero(n);
        for i in 0..n {
            square.cells[i * n + i] = Complex64::new(1.0, 0.0);
        }
        square
    }

    /// Rows, and columns.
    pub fn n(&self) -> usize {
        self.n
    }

    /// A cell.
    pub fn at(&self, row: usize, column: usize) -> Complex64 {
        self.cells[row * self.n + column]
    }

    /// A cell, to write.
    pub fn at_mut(&mut self, row: usize, column: usize) -> &mut Complex64 {
        &mut self.cells[row * self.n + column]
    }

    /// A row.
    pub fn row(&self, row: usize) -> &[Complex64] {
        &self.cells[row * self.n..(row + 1) * self.n]
    }

    /// A row, to write.
    pub fn row_mut(&mut self, row: usize) -> &mut [Complex64] {
        &mut self.cells[row * self.n..(row + 1) * self.n]
    }

    /// The product with a matrix on the right.
    ///
    /// # Panics
    ///
    /// If their sizes differ.
    pub fn times(&self, right: &Self) -> Self {
        assert_eq!(self.n, right.n, "matrices of one size");
        let mut product = Self::zero(self.n);
        for i in 0..self.n {
            for k in 0..self.n {
                let factor = self.at(i, k);
                for (cell, &x) in product.row_mut(i).iter_mut().zip(right.row(k)) {
                    *cell += factor * x;
                }
            }
        }
        product
    }

    /// The product with a column on the right.
    pub fn times_column(&self, column: &[Complex64]) -> Vec<Complex64> {
        (0..self.n).map(|i| self.row(i).iter().zip(column).map(|(a, x)| a * x).sum()).collect()
    }

    /// The solutions `x` of `self x = column`, for several columns at once, held as rows of `columns`.
    ///
    /// `None` if the matrix has no inverse.
    fn solve_all(&self, columns: &mut [Vec<Complex64>]) -> Option<()> {
        let n = self.n;
        let mut rest = self.cells.clone();
        let scale = rest.iter().map(|x| x.norm_sqr()).fold(0.0, f64::max);
        for pivot in 0..n {
            let size = |row: &usize| rest[row * n + pivot].norm_sqr();
            let best = (pivot..n).max_by(|a, b| size(a).total_cmp(&size(b)))?;
            if size(&best) <= scale * 1e-30 {
                return None;
            }
            if best != pivot {
                for column in 0..n {
                    rest.swap(pivot * n + column, best * n + column);
                }
                columns.iter_mut().for_each(|column| column.swap(pivot, best));
            }
            let inverse = rest[pivot * n + pivot].inv();
            for row in pivot + 1..n {
                let factor = rest[row * n + pivot] * inverse;
                let (above, below) = rest.split_at_mut(row * n);
                let above = &above[pivot * n..(pivot + 1) * n];
                for column in pivot..n {
                    below[column] -= factor * above[column];
                }
                for column in columns.iter_mut() {
                    let x = column[pivot];
                    column[row] -= factor * x;
                }
            }
        }
        for column in columns {
            for row in (0..n).rev() {
                let known: Complex64 =
                    (row + 1..n).map(|later| rest[row * n + later] * column[later]).sum();
                column[row] = (column[row] - known) / rest[row * n + row];
            }
        }
        Some(())
    }

    /// The solution of `self x = column`; `None` if the matrix has no inverse.
    pub fn solve(&self, column: &[Complex64]) -> Option<Vec<Complex64>> {
        let mut columns = [column.to_vec()];
        self.solve_all(&mut columns)?;
        let [solution] = columns;
        Some(solution)
    }

    /// The inverse; `None` if there is none.
    pub fn inverse(&self) -> Option<Self> {
        let mut columns: Vec<Vec<Complex64>> =
            (0..self.n).map(|i| Self::identity(self.n).row(i).to_vec()).collect();
        self.solve_all(&mut columns)?;
        let mut inverse = Self::zero(self.n);
        for (j, column) in columns.iter().enumerate() {
            for (i, &x) in column.iter().enumerate() {
                *inverse.at_mut(i, j) = x;
            }
        }
        Some(inverse)
    }

    /// The root of a Hermitian matrix, of which the lower half is read; `None` unless it is positive.
    pub fn root(&self) -> Option<Root> {
        let n = self.n;
        let mut lower = Self::zero(n);
        for i in 0..n {
            for j in 0..=i {
                let known: Complex64 = lower.row(i)[..j]
                    .iter()
                    .zip(&lower.row(j)[..j])
                    .map(|(a, b)| a * b.conj())
                    .sum();
                let rest = self.at(i, j) - known;
                *lower.at_mut(i, j) = if i > j {
                    rest / lower.at(j, j).re
                } else if rest.re > 0.0 && rest.re.is_finite() {
                    Complex64::new(rest.re.sqrt(), 0.0)
                } else {
                    return None;
                };
            }
        }
        Some(Root { lower })
    }
}

/// The lower factor `L` of a Hermitian matrix `L L^H` (Cholesky).
#[derive(Clone, Debug, PartialEq)]
pub struct Root {
    lower: Square,
}

impl Root {
    /// The solution of `L L^H x = column`.
    pub fn solve(&self, column: &[Complex64]) -> Vec<Complex64> {
        let n = self.lower.n;
        let mut x = column.to_vec();
        for i in 0..n {
            let known: Complex64 = self.lower.row(i)[..i].iter().zip(&x).map(|(a, x)| a * x).sum();
            x[i] = (x[i] - known) / self.lower.at(i, i).re;
        }
        for i in (0..n).rev() {
            x[i] /= self.lower.at(i, i).re;
            let (before, rest) = x.split_at_mut(i);
            for (x, a) in before.iter_mut().zip(self.lower.row(i)) {
                *x -= a.conj() * rest[0];
            }
        }
        x
    }
}
