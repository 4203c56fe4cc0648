//! Values of some frames: every copy gives the bits of the plain one, and what the `num-complex` crate gives.

use deskside::dsp::lanes::{
    Isa, LANES, Parts, add_part_powers, move_parts, part_product, take_parts, unpack_parts,
};
use realfft::num_complex::Complex32;

use crate::support::signals::noise;

const FRAMES: usize = 16;

/// Sums of 16 products of about 0.1 in single precision.
const TOLERANCE: f32 = 1e-5;

fn parts(seed: u64) -> Parts<FRAMES> {
    let drawn = noise(seed, 0.3, 2 * FRAMES);
    let (re, im) = drawn.split_at(FRAMES);
    Parts { re: re.try_into().expect("16 frames"), im: im.try_into().expect("16 frames") }
}

fn at(parts: &Parts<FRAMES>, frame: usize) -> Complex32 {
    Complex32::new(parts.re[frame], parts.im[frame])
}

#[test]
fn every_copy_unpacks_cells() {
    let drawn = noise(3, 0.9, 2 * FRAMES * LANES);
    let whole = |idx: usize| (drawn[idx] * 32_767.0) as i16;
    let mut cells = [[[0; 2]; FRAMES]; LANES];
    for (at, cell) in cells.as_flattened_mut().iter_mut().enumerate() {
        *cell = [whole(2 * at), whole(2 * at + 1)];
    }
    let scales = std::array::from_fn(|lane| 0.1 + 0.2 * lane as f32);
    for isa in Isa::all() {
        let mut found = [Parts::SILENT; LANES];
        unpack_parts(isa, &cells, &scales, &mut found);
        for lane in 0..LANES {
            for (frame, cell) in cells[lane].iter().enumerate() {
                let [re, im] = cell.map(|x| f32::from(x) * scales[lane]);
                assert_eq!(at(&found[lane], frame), Complex32::new(re, im), "{isa:?}");
            }
        }
    }
}

#[test]
fn every_copy_moves_and_adds_powers() {
    let heard = parts(4);
    let gains: [f32; FRAMES] = noise(5, 0.9, FRAMES).try_into().expect("16 frames");
    let mut first = None;
    for isa in Isa::all() {
        // What stands there already is added to.
        let mut sums = [[1.0; FRAMES]; 2];
        let moved = move_parts(isa, &heard, &gains, [0.5, 2.0], &mut sums);
        let mut own = [1.0; FRAMES];
        let power = add_part_powers(isa, &moved, &mut own);
        let mut expected = 0.0;
        for frame in 0..FRAMES {
            let value = at(&heard, frame) * gains[frame];
            assert_eq!(at(&moved, frame), value, "{isa:?}");
            let of_frame = value.norm_sqr();
            let sums = [sums[0][frame], sums[1][frame], own[frame]];
            for (sum, weight) in sums.iter().zip([0.5, 2.0, 1.0]) {
                assert!((sum - 1.0 - weight * of_frame).abs() < TOLERANCE, "{isa:?}: {sum}");
            }
            expected += of_frame;
        }
        assert!((power - expected).abs() < TOLERANCE, "{isa:?}: {power}, not {expected}");
        let found = (sums, own, power);
        assert_eq!(&found, first.get_or_insert(found), "{isa:?}: other bits");
    }
}

#[test]
fn every_copy_takes_others_by_their_colours() {
    let others: Vec<Parts<FRAMES>> = (10..15).map(parts).collect();
    let colours: Vec<Complex32> = (0..others.len()).map(|k| at(&parts(6), k)).collect();
    let mut first = None;
    for isa in Isa::all() {
        let mut left = parts(7);
        take_parts(isa, &mut left, &others, &colours);
        for frame in 0..FRAMES {
            let given = others.iter().zip(&colours).map(|(x, colour)| at(x, frame) * colour);
            let expected = at(&parts(7), frame) - given.sum::<Complex32>();
            assert!((at(&left, frame) - expected).norm() < TOLERANCE, "{isa:?}, {frame}");
        }
        assert_eq!(&left, first.get_or_insert(left), "{isa:?}: other bits");
    }
}

#[test]
fn every_copy_sums_products_with_conjugates() {
    let (values, others) = (parts(8), parts(9));
    let expected: Complex32 =
        (0..FRAMES).map(|frame| at(&values, frame) * at(&others, frame).conj()).sum();
    let mut first = None;
    for isa in Isa::all() {
        let found = part_product(isa, &values, &others);
        assert!((found - expected).norm() < TOLERANCE, "{isa:?}: {found}, not {expected}");
        assert_eq!(&found, first.get_or_insert(found), "{isa:?}: other bits");
    }
}
