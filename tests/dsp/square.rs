//! Complex matrices against the defining equations.

use deskside::dsp::Square;
use realfft::num_complex::Complex64;

use crate::support::signals::noise;

/// Sums of a dozen products in double precision.
const TOLERANCE: f64 = 1e-10;

fn random(n: usize, seed: u64) -> Square {
    let cells = noise(seed, 1.0, 2 * n * n);
    let mut square = Square::zero(n);
    for row in 0..n {
        for column in 0..n {
            let place = 2 * (row * n + column);
            *square.at_mut(row, column) =
                Complex64::new(f64::from(cells[place]), f64::from(cells[place + 1]));
        }
    }
    square
}

fn distance(a: &Square, b: &Square) -> f64 {
    (0..a.n()).flat_map(|row| a.row(row).iter().zip(b.row(row))).map(|(a, b)| (a - b).norm()).sum()
}

#[test]
fn a_matrix_times_its_inverse_is_the_identity() {
    for n in [1, 2, 5, 16] {
        let square = random(n, n as u64);
        let inverse = square.inverse().expect("a random matrix has an inverse");
        let product = square.times(&inverse);
        assert!(distance(&product, &Square::identity(n)) < TOLERANCE, "{n}: {product:?}");
    }
}

#[test]
fn the_inverse_of_two_by_two_is_the_adjugate_over_the_determinant() {
    let square = random(2, 9);
    let [a, b, c, d] = [(0, 0), (0, 1), (1, 0), (1, 1)].map(|(row, column)| square.at(row, column));
    let determinant = a * d - b * c;
    let inverse = square.inverse().expect("a random matrix has an inverse");
    for (found, expected) in [
        (inverse.at(0, 0), d),
        (inverse.at(0, 1), -b),
        (inverse.at(1, 0), -c),
        (inverse.at(1, 1), a),
    ] {
        assert!((found - expected / determinant).norm() < TOLERANCE);
    }
}

#[test]
fn a_solution_fulfils_its_equation_even_with_a_zero_on_the_diagonal() {
    let mut square = random(6, 3);
    *square.at_mut(0, 0) = Complex64::default();
    let column: Vec<Complex64> = (0..6).map(|x| Complex64::new(f64::from(x), 1.0)).collect();
    let solution = square.solve(&column).expect("a random matrix has an inverse");
    let back = square.times_column(&solution);
    for (found, expected) in back.iter().zip(&column) {
        assert!((found - expected).norm() < TOLERANCE);
    }
}

#[test]
fn a_matrix_with_two_equal_rows_has_no_inverse() {
    let mut square = random(4, 5);
    let row = square.row(0).to_vec();
    square.row_mut(2).copy_from_slice(&row);
    assert_eq!(square.inverse(), None);
    assert_eq!(Square::zero(3).solve(&[Complex64::default(); 3]), None);
}

#[test]
fn the_root_of_a_hermitian_matrix_solves_what_the_elimination_solves() {
    for n in [1, 2, 5, 16] {
        // B B^H is Hermitian and positive.
        let b = random(n, 40 + n as u64);
        let mut adjoint = Square::zero(n);
        for i in 0..n {
            for j in 0..n {
                *adjoint.at_mut(i, j) = b.at(j, i).conj();
            }
        }
        let square = b.times(&adjoint);
        let column: Vec<Complex64> = (0..n).map(|i| b.at(i, 0)).collect();
        let solution = square.root().expect("it is positive").solve(&column);
        let back = square.times_column(&solution);
        let off: f64 = back.iter().zip(&column).map(|(a, b)| (a - b).norm()).sum();
        assert!(off < 1e-7, "{n}: {off}");
    }
    let mut negative = Square::identity(3);
    *negative.at_mut(1, 1) = Complex64::new(-1.0, 0.0);
    assert_eq!(negative.root(), None, "not positive");
}
