//! Products of columns: every copy gives the bits of the plain one, and the sums that the definition gives.

use deskside::dsp::lanes::{Isa, WIDE, add_gram};

use crate::support::signals::noise;

/// 50 products of about 0.1 in single precision.
const TOLERANCE: f32 = 1e-5;

#[test]
fn every_copy_gives_the_sums_of_the_definition_on_and_right_of_the_diagonal() {
    let (n, n_rows) = (3 * WIDE, 50);
    let rows = noise(5, 0.3, n * n_rows);
    let mut first: Option<Vec<f32>> = None;
    for isa in Isa::all() {
        // What stands there already is added to.
        let mut sums = vec![1.0; n * n];
        add_gram(isa, &rows, n, &mut sums);
        for row in 0..n {
            for column in row..n {
                let expected: f32 = rows.chunks_exact(n).map(|x| x[row] * x[column]).sum();
                let found = sums[row * n + column] - 1.0;
                assert!((found - expected).abs() < TOLERANCE, "{isa:?}: {found}, not {expected}");
            }
        }
        assert_eq!(&sums, first.get_or_insert(sums.clone()), "{isa:?}: other bits");
    }
}
