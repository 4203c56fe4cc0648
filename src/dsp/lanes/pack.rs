//! Planes of samples to frames.
//!
//! Takes up to eight planes, gives frames. Never touches a sample's value.

use super::isa::dispatch;
use super::{Frame, Isa, LANES};
use crate::dsp::Group;

/// Frames packed at once: 128 KB, which stay in the second-level cache while all meters take their turn.
const PACKED: usize = 4096;

/// Packs a group; calls `each` with its frames, in order, in pieces that the cache holds.
pub fn for_each_pack(isa: Isa, group: Group<'_>, mut each: impl FnMut(&[Frame])) {
    let mut frames = vec![[0.0; LANES]; PACKED.min(group.len())];
    for from in (0..group.len()).step_by(PACKED) {
        let some = &mut frames[..PACKED.min(group.len() - from)];
        pack(isa, group.planes(), from, some);
        each(some);
    }
}

dispatch! {
    /// Writes the samples `from..from + frames.len()` of each plane into the frames; lanes without a plane become 0.
    ///
    /// # Panics
    ///
    /// If there are more than eight planes or a plane ends too early.
    pub fn pack[](planes: &[&[f32]], from: usize, frames: &mut [Frame]) {
        assert!(planes.len() <= LANES, "a frame holds {LANES} channels, found {}", planes.len());
        let mut rows: [&[f32]; LANES] = [&[]; LANES];
        for (row, plane) in rows.iter_mut().zip(planes) {
            *row = &plane[from..from + frames.len()];
        }
        let n_planes = planes.len();
        // Squares of eight by eight: the compiler turns the copy into shuffles of whole registers.
        let (squares, rest) = frames.as_chunks_mut::<LANES>();
        for (idx, square) in squares.iter_mut().enumerate() {
            let mut tile = [[0.0f32; LANES]; LANES];
            for (line, row) in tile.iter_mut().zip(&rows[..n_planes]) {
                line.copy_from_slice(&row[idx * LANES..(idx + 1) * LANES]);
            }
            for (at, frame) in square.iter_mut().enumerate() {
                for (sample, line) in frame.iter_mut().zip(&tile) {
                    *sample = line[at];
                }
            }
        }
        let done = squares.len() * LANES;
        for (at, frame) in rest.iter_mut().enumerate() {
            *frame = [0.0; LANES];
            for (sample, row) in frame.iter_mut().zip(&rows[..n_planes]) {
                *sample = row[done + at];
            }
        }
    }
}
