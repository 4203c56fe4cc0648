//! Cells of eight channels, side by side: every copy gives the bits that the definition gives, value by value.

use deskside::dsp::lanes::{Frame, Isa, LANES, Packed, WIDE, coloured, scaled, side_by_side};

use crate::support::signals::noise;

const FRAMES: usize = 16;

type Cells = [[[i16; 2]; FRAMES]; LANES];

/// Whole numbers of either sign, the smallest and the largest among them.
fn cells() -> Cells {
    let drawn = noise(3, 0.9, 2 * FRAMES * LANES);
    let whole = |idx: usize| (drawn[idx] * 32_767.0) as i16;
    let mut cells = [[[0; 2]; FRAMES]; LANES];
    for (at, cell) in cells.as_flattened_mut().iter_mut().enumerate() {
        *cell = [whole(2 * at), whole(2 * at + 1)];
    }
    cells[0][0] = [i16::MIN, i16::MAX];
    cells[7][15] = [-1, i16::MIN];
    cells
}

fn frame(seed: u64) -> Frame {
    noise(seed, 0.3, LANES).try_into().expect("eight values")
}

fn turned(isa: Isa, cells: &Cells) -> [Packed; FRAMES] {
    let mut frames = [[0; LANES]; FRAMES];
    side_by_side(isa, cells, &mut frames);
    frames
}

/// Whether both parts have the same bits.
fn is_same(found: [f32; 2], expected: [f32; 2]) -> bool {
    found.map(f32::to_bits) == expected.map(f32::to_bits)
}

#[test]
fn every_copy_turns_and_scales() {
    let (cells, scales) = (cells(), frame(4));
    let factors: Vec<Frame> = (0..FRAMES as u64).map(|at| frame(10 + at)).collect();
    for isa in Isa::all() {
        // Rows that lie farther apart than they are long.
        let distance = WIDE + 3;
        let mut rows = vec![9.0; FRAMES * distance];
        scaled(isa, &turned(isa, &cells), &scales, &factors, &mut rows, distance);
        for (at, row) in rows.chunks_exact(distance).enumerate() {
            for lane in 0..LANES {
                let expected =
                    cells[lane][at].map(|x| f32::from(x) * scales[lane] * factors[at][lane]);
                let found = [row[lane], row[LANES + lane]];
                assert!(is_same(found, expected), "{isa:?}, {at}, {lane}: {found:?}");
            }
            assert_eq!(row[WIDE..], [9.0; 3], "{isa:?}: nothing beside the row");
        }
    }
}

#[test]
fn every_copy_colours_both_sides() {
    let (cells, scales) = (cells(), frame(4));
    let colours = [[frame(5), frame(6)], [frame(7), frame(8)]];
    for isa in Isa::all() {
        let distance = 4 * WIDE;
        let mut rows = vec![9.0; FRAMES * distance];
        coloured(isa, &turned(isa, &cells), &scales, &colours, &mut rows, distance);
        for (at, rows) in rows.chunks_exact(distance).enumerate() {
            for lane in 0..LANES {
                let [x, y] = cells[lane][at].map(|x| f32::from(x) * scales[lane]);
                for (side, [re, im]) in colours.iter().enumerate() {
                    let (a, b) = (re[lane], im[lane]);
                    let found = [0, 1].map(|part| rows[(2 * side + part) * WIDE + lane]);
                    let expected = [a * x - b * y, a * y + b * x];
                    assert!(is_same(found, expected), "{isa:?}, {at}, {lane}: {found:?}");
                }
            }
            assert_eq!(rows[LANES..WIDE], [9.0; LANES], "{isa:?}: the other half of the panel");
        }
    }
}
