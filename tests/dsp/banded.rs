//! Hermitian equations within a band against an independent library and the defining equation.

use deskside::dsp::Banded;
use realfft::num_complex::Complex64;

use crate::support::oracle::{even, solution};

/// The table holds ten digits.
const TOLERANCE: f64 = 1e-8;

/// Complex numbers from two in a row.
fn pairs(seed: u64, count: usize) -> Vec<Complex64> {
    even(seed, 2 * count).chunks_exact(2).map(|two| Complex64::new(two[0], two[1])).collect()
}

#[test]
fn equations_within_a_band_are_solved_as_an_independent_library_solves_them() {
    let (n, reach) = (12, 3);
    let random = pairs(25, n * n);
    let factor = |row: usize, column: usize| match row.checked_sub(column) {
        Some(0) => Complex64::new(2.0, 0.0),
        Some(below) if below <= reach => random[row * n + column],
        _ => Complex64::default(),
    };
    let mut square = Banded::zero(n, reach);
    for row in 0..n {
        for column in row.saturating_sub(reach)..=row {
            *square.at_mut(row, column) =
                (0..n).map(|k| factor(row, k) * factor(column, k).conj()).sum();
        }
    }
    let found = square.solve(&pairs(26, n)).expect("the matrix is positive definite");
    let expected = solution("banded");
    assert_eq!(found.len(), expected.len(), "a value for each row");
    for (found, [re, im]) in found.iter().zip(expected) {
        assert!((found - Complex64::new(re, im)).norm() < TOLERANCE, "{found}, not {re} {im}");
    }
}

#[test]
fn what_is_not_positive_definite_has_no_solution() {
    for diagonal in [0.0, -1.0, f64::NAN] {
        let mut square = Banded::zero(2, 1);
        *square.at_mut(0, 0) = Complex64::new(1.0, 0.0);
        *square.at_mut(1, 1) = Complex64::new(diagonal, 0.0);
        assert!(square.solve(&[Complex64::default(); 2]).is_none(), "{diagonal}");
    }
}
