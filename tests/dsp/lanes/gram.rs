//! Products of columns: every copy gives the bits of the plain one, and the sums that the definition gives.

use deskside::dsp::lanes::{Isa, Panel, WIDE, add_pairs, weighted_sum, widen};

use crate::support::signals::noise;

/// 50 products of about 0.1 in single precision.
const TOLERANCE: f32 = 1e-5;

fn rows(seed: u64) -> Vec<Panel> {
    noise(seed, 0.3, 50 * WIDE).as_chunks().0.to_vec()
}

#[test]
fn every_copy_gives_the_sums_of_the_definition() {
    let (down, across) = (rows(5), rows(6));
    let mut first = None;
    for isa in Isa::all() {
        // What stands there already is added to.
        let mut sums = [[1.0; WIDE]; WIDE];
        add_pairs(isa, &down, &across, &mut sums);
        for (a, sums) in sums.iter().enumerate() {
            for (b, sum) in sums.iter().enumerate() {
                let expected: f32 = down.iter().zip(&across).map(|(x, y)| x[a] * y[b]).sum();
                let found = sum - 1.0;
                assert!((found - expected).abs() < TOLERANCE, "{isa:?}: {found}, not {expected}");
            }
        }
        assert_eq!(&sums, first.get_or_insert(sums), "{isa:?}: other bits");
    }
}

#[test]
fn every_copy_sums_weighted_rows() {
    let (rows, factors) = (rows(7), noise(8, 0.3, 50));
    let mut first = None;
    for isa in Isa::all() {
        let sum = weighted_sum(isa, &rows, &factors);
        for (column, found) in sum.iter().enumerate() {
            let expected: f32 = rows.iter().zip(&factors).map(|(row, x)| row[column] * x).sum();
            assert!((found - expected).abs() < TOLERANCE, "{isa:?}: {found}, not {expected}");
        }
        let bits = sum.map(f32::to_bits);
        assert_eq!(&bits, first.get_or_insert(bits), "{isa:?}: other bits");
    }
}

#[test]
fn every_copy_adds_to_wider_sums() {
    let more: Vec<Panel> = rows(9)[..WIDE].to_vec();
    let more: [Panel; WIDE] = more.try_into().expect("sixteen rows");
    for isa in Isa::all() {
        let mut sums = [[0.5f64; WIDE]; WIDE];
        widen(isa, &mut sums, &more);
        for (sum, x) in sums.as_flattened().iter().zip(more.as_flattened()) {
            let expected = 0.5 + f64::from(*x);
            assert_eq!(sum.to_bits(), expected.to_bits(), "{isa:?}: {sum}, not {expected}");
        }
    }
}
