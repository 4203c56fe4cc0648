//! Hermitian equations whose cells lie near the diagonal.
//!
//! Takes the cells on and below the diagonal, gives the solution by a Cholesky factorisation that stays within the band.
//! A matrix that is not positive definite gives `None`.

use realfft::num_complex::Complex64;

/// A Hermitian matrix with nothing farther than some cells from its diagonal.
#[derive(Clone, Debug)]
pub struct Banded {
    n: usize,
    reach: usize,
    /// Row by row, the cells from `reach` left of the diagonal to the diagonal.
    cells: Vec<Complex64>,
}

impl Banded {
    /// All cells 0; nothing lies farther than `reach` from the diagonal.
    pub fn zero(n: usize, reach: usize) -> Self {
        Self { n, reach, cells: vec![Complex64::default(); n * (reach + 1)] }
    }

    /// A cell on or below the diagonal, to write.
    ///
    /// # Panics
    ///
    /// If it lies above the diagonal or outside the band.
    pub fn at_mut(&mut self, row: usize, column: usize) -> &mut Complex64 {
        assert!(column <= row && row - column <= self.reach, "a cell of the lower band");
        &mut self.cells[row * (self.reach + 1) + self.reach - (row - column)]
    }

    /// The solution of `self x = column`; `None` if the matrix is not positive definite.
    ///
    /// # Panics
    ///
    /// If the column is not as long as the matrix.
    pub fn solve(mut self, column: &[Complex64]) -> Option<Vec<Complex64>> {
        assert_eq!(column.len(), self.n, "a value for each row");
        self.factorise()?;
        let (width, reach) = (self.reach + 1, self.reach);
        let mut x = column.to_vec();
        for i in 0..self.n {
            let row = &self.cells[i * width..(i + 1) * width];
            let first = i.saturating_sub(reach);
            let known: Complex64 =
                row[reach - (i - first)..reach].iter().zip(&x[first..i]).map(|(a, x)| a * x).sum();
            x[i] = (x[i] - known) / row[reach].re;
        }
        for i in (0..self.n).rev() {
            let row = &self.cells[i * width..(i + 1) * width];
            let first = i.saturating_sub(reach);
            let found = x[i] / row[reach].re;
            x[i] = found;
            let above = x[first..i].iter_mut().zip(&row[reach - (i - first)..reach]);
            above.for_each(|(x, a)| *x -= a.conj() * found);
        }
        Some(x)
    }

    /// Puts `L` of `L L^H` in place of the matrix.
    fn factorise(&mut self) -> Option<()> {
        let (width, reach) = (self.reach + 1, self.reach);
        for i in 0..self.n {
            let (before, row) = self.cells.split_at_mut(i * width);
            let row = &mut row[..width];
            let first = i.saturating_sub(reach);
            for j in first..i {
                let other = &before[j * width..(j + 1) * width];
                // The cells of both rows from the first column that both hold.
                let from = first.max(j.saturating_sub(reach));
                let (mine, theirs) = (reach - (i - from), reach - (j - from));
                let n = j - from;
                let known: Complex64 = row[mine..mine + n]
                    .iter()
                    .zip(&other[theirs..theirs + n])
                    .map(|(a, b)| a * b.conj())
                    .sum();
                let place = reach - (i - j);
                row[place] = (row[place] - known) / other[reach].re;
            }
            let rest = row[reach].re
                - row[reach - (i - first)..reach].iter().map(|a| a.norm_sqr()).sum::<f64>();
            // Written so that no number is refused as well.
            if !(rest > 0.0 && rest.is_finite()) {
                return None;
            }
            row[reach] = Complex64::new(rest.sqrt(), 0.0);
        }
        Some(())
    }
}
