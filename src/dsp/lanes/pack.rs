//! Planes of samples to frames, and back.
//!
//! Takes up to eight planes, gives frames; takes frames, gives their lanes. Never touches a sample's value.

use super::{Frame, Isa, LANES};
use crate::dsp::Group;

/// Frames packed at once: 128 KB, which stay in the second-level cache while all meters take their turn.
const PACKED: usize = 4096;

/// Eight samples of each of eight channels, one way or the other.
type Square = [Frame; LANES];

/// Packs a group; calls `each` with its frames, in order, in pieces that the cache holds.
pub fn for_each_pack(isa: Isa, group: Group<'_>, mut each: impl FnMut(&[Frame])) {
    let mut frames = vec![[0.0; LANES]; PACKED.min(group.len())];
    for from in (0..group.len()).step_by(PACKED) {
        let some = &mut frames[..PACKED.min(group.len() - from)];
        pack(isa, group.planes(), from, some);
        each(some);
    }
}

/// What lanes without a plane hold.
static SILENCE: [Frame; PACKED / LANES] = [[0.0; LANES]; PACKED / LANES];

/// Writes the samples `from..from + frames.len()` of each plane into the frames; lanes without a plane become 0.
///
/// # Panics
///
/// If there are more than eight planes or a plane ends too early.
pub fn pack(isa: Isa, planes: &[&[f32]], from: usize, frames: &mut [Frame]) {
    assert!(planes.len() <= LANES, "a frame holds {LANES} channels, found {}", planes.len());
    let mut rows: [&[f32]; LANES] = [&[]; LANES];
    for (row, plane) in rows.iter_mut().zip(planes) {
        *row = &plane[from..from + frames.len()];
    }
    let (squares, rest) = frames.as_chunks_mut::<LANES>();
    let done = squares.len() * LANES;
    for (at, some) in squares.chunks_mut(SILENCE.len()).enumerate() {
        let begin = at * SILENCE.len();
        let mut eights = [&SILENCE[..some.len()]; LANES];
        for (eights, row) in eights.iter_mut().zip(&rows[..planes.len()]) {
            *eights = &row.as_chunks::<LANES>().0[begin..begin + some.len()];
        }
        gather(isa, eights, some);
    }
    for (at, frame) in rest.iter_mut().enumerate() {
        *frame = [0.0; LANES];
        for (sample, row) in frame.iter_mut().zip(&rows[..planes.len()]) {
            *sample = row[done + at];
        }
    }
}

/// Writes the samples of each lane one behind the other into its row.
///
/// # Panics
///
/// If there are more frames than a row holds.
pub fn part<const N: usize>(isa: Isa, frames: &[Frame], rows: &mut [[f32; N]; LANES]) {
    let (squares, rest) = frames.as_chunks::<LANES>();
    scatter(isa, squares, rows.each_mut().map(|row| row.as_chunks_mut::<LANES>().0));
    for (at, frame) in (squares.len() * LANES..).zip(rest) {
        for (row, &sample) in rows.iter_mut().zip(frame) {
            row[at] = sample;
        }
    }
}

fn gather(isa: Isa, rows: [&[Frame]; LANES], squares: &mut [Square]) {
    #[cfg(target_arch = "x86_64")]
    if isa.holds_frames() {
        #[expect(unsafe_code, reason = "registers are used only where they were detected")]
        // SAFETY: `Isa::holds_frames` is true only if the processor has the features that the function names.
        return unsafe { named::gather(rows, squares) };
    }
    plain::gather(rows, squares);
}

fn scatter(isa: Isa, squares: &[Square], rows: [&mut [Frame]; LANES]) {
    #[cfg(target_arch = "x86_64")]
    if isa.holds_frames() {
        #[expect(unsafe_code, reason = "registers are used only where they were detected")]
        // SAFETY: as above.
        return unsafe { named::scatter(squares, rows) };
    }
    plain::scatter(squares, rows);
}

/// Both ways, by a function that turns a square about.
macro_rules! both_ways {
    ($(#[$features:meta])?) => {
        $(#[$features])?
        pub(super) fn gather(rows: [&[Frame]; LANES], squares: &mut [Square]) {
            let n = squares.len();
            let rows = rows.map(|row| &row[..n]);
            for (at, square) in squares.iter_mut().enumerate() {
                let mut lines = [[0.0; LANES]; LANES];
                for (line, row) in lines.iter_mut().zip(rows) {
                    *line = row[at];
                }
                *square = turned(lines);
            }
        }

        $(#[$features])?
        pub(super) fn scatter(squares: &[Square], mut rows: [&mut [Frame]; LANES]) {
            for (at, square) in squares.iter().enumerate() {
                for (row, eight) in rows.iter_mut().zip(turned(*square)) {
                    row[at] = eight;
                }
            }
        }
    };
}

mod plain {
    use super::{Frame, LANES, Square};

    both_ways! {}

    fn turned(square: Square) -> Square {
        std::array::from_fn(|at| square.map(|line| line[at]))
    }
}

/// The compiler by itself takes four times as long over a square.
#[cfg(target_arch = "x86_64")]
mod named {
    use std::arch::x86_64::{
        __m256, _mm256_permute2f128_ps, _mm256_shuffle_ps, _mm256_unpackhi_ps, _mm256_unpacklo_ps,
    };

    use bytemuck::cast;

    use super::{Frame, LANES, Square};

    both_ways! { #[target_feature(enable = "avx2,fma")] }

    /// Lines are woven by twos, the results by twos again, and halves of registers change places.
    #[inline]
    #[target_feature(enable = "avx2,fma")]
    fn turned(square: Square) -> Square {
        let [a, b, c, d, e, f, g, h]: [__m256; LANES] = cast(square);
        let four = |a, b, c, d| {
            let (low, high) = (_mm256_unpacklo_ps(a, b), _mm256_unpackhi_ps(a, b));
            let (other_low, other_high) = (_mm256_unpacklo_ps(c, d), _mm256_unpackhi_ps(c, d));
            [
                _mm256_shuffle_ps::<0x44>(low, other_low),
                _mm256_shuffle_ps::<0xee>(low, other_low),
                _mm256_shuffle_ps::<0x44>(high, other_high),
                _mm256_shuffle_ps::<0xee>(high, other_high),
            ]
        };
        let [upper, lower] = [four(a, b, c, d), four(e, f, g, h)];
        let first = |at: usize| _mm256_permute2f128_ps::<0x20>(upper[at], lower[at]);
        let second = |at: usize| _mm256_permute2f128_ps::<0x31>(upper[at], lower[at]);
        cast([first(0), first(1), first(2), first(3), second(0), second(1), second(2), second(3)])
    }
}
