//! Sums and largest sizes of rows: every copy gives the bits of the plain one, and what plain loops give.

use deskside::dsp::lanes::{Isa, largest_size, sum_of};

use crate::support::feeding::assert_near;
use crate::support::signals::noise;

#[test]
fn every_copy_sums_a_row_and_finds_its_largest_size() {
    for len in [0, 1, 7, 8, 9, 1000] {
        let row = noise(11, 0.5, len);
        let sum: f64 = row.iter().map(|&x| f64::from(x)).sum();
        let size = row.iter().map(|x| x.abs()).fold(0.0, f32::max);
        let mut first = None;
        for isa in Isa::all() {
            let found = sum_of(isa, &row);
            assert_near(found, sum, 1e-9, "sum");
            assert_eq!(*first.get_or_insert(found.to_bits()), found.to_bits(), "{isa:?}, {len}");
            assert_eq!(largest_size(isa, &row).to_bits(), size.to_bits(), "{isa:?}, {len}");
        }
    }
}

#[test]
fn a_negative_sample_can_be_the_largest() {
    for isa in Isa::all() {
        let size = largest_size(isa, &[0.25, -0.5, -0.0]);
        assert_eq!(size.to_bits(), 0.5f32.to_bits(), "{isa:?}");
    }
}
