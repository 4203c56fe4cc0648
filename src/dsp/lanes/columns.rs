//! Whole numbers of eight channels, channel by channel, to rows in which the channels stand side by side.
//!
//! Takes the cells in which spectra are held, gives parts of single precision. Turning and scaling are kernels of their own: in one, the
//! compiler scales first and turns twice as many values (57 ns a block instead of 36). The distance from row to row is no constant for the
//! same reason: of rows that adjoin it would take eight together, and turn those.

use super::gram::Panel;
use super::isa::dispatch;
use super::{Frame, LANES};

/// Cells of eight channels in a frame: the real part in the lower half, the imaginary one in the upper.
pub type Packed = [u32; LANES];

/// Left and right, and the real and the imaginary part of each.
const ROWS: usize = 4;

dispatch! {
    narrow
    /// Turns `F` cells of each of eight channels to `F` frames.
    pub fn side_by_side[const F](cells: &[[[i16; 2]; F]; LANES], frames: &mut [Packed; F]) {
        let squares = frames.as_chunks_mut::<LANES>().0.iter_mut();
        for (first, square) in (0..F).step_by(LANES).zip(squares) {
            let mut tile = [[0u32; LANES]; LANES];
            for (line, cells) in tile.iter_mut().zip(cells) {
                let cells: [[i16; 2]; LANES] =
                    cells[first..first + LANES].try_into().expect("a square is whole");
                for at in 0..LANES {
                    let [re, im] = cells[at].map(|part| u32::from(part.cast_unsigned()));
                    line[at] = re | im << 16;
                }
            }
            for (at, frame) in square.iter_mut().enumerate() {
                for lane in 0..LANES {
                    frame[lane] = tile[lane][at];
                }
            }
        }
    }
}

dispatch! {
    narrow
    /// Writes for each frame a row: the real parts of its cells and behind them the imaginary ones, times the scale of their channel and
    /// then a factor of channel and frame. A row begins every `distance` values.
    ///
    /// # Panics
    ///
    /// If there is not a factor for each frame, or a row has no room.
    pub fn scaled[](
        frames: &[Packed],
        scales: &Frame,
        factors: &[Frame],
        rows: &mut [f32],
        distance: usize,
    ) {
        assert_eq!(frames.len(), factors.len(), "factors for each frame");
        let scales = *scales;
        for ((frame, factors), row) in frames.iter().zip(factors).zip(rows.chunks_mut(distance)) {
            let (frame, factors) = (*frame, *factors);
            let row: &mut Panel = row.first_chunk_mut().expect("room for a row");
            for lane in 0..LANES {
                row[lane] = real(frame[lane]) * scales[lane] * factors[lane];
            }
            for lane in 0..LANES {
                row[LANES + lane] = imaginary(frame[lane]) * scales[lane] * factors[lane];
            }
        }
    }
}

dispatch! {
    narrow
    /// Writes for each frame what its cells become by the colours of two sides: rows of the real and the imaginary parts of the left and
    /// of the right side, each row half of a [`Panel`]. The first of a frame's rows begins every `distance` values.
    ///
    /// `colours` holds side by side the real and the imaginary parts.
    ///
    /// # Panics
    ///
    /// If the rows of a frame have no room.
    pub fn coloured[](
        frames: &[Packed],
        scales: &Frame,
        colours: &[[Frame; 2]; 2],
        rows: &mut [f32],
        distance: usize,
    ) {
        const ROOM: usize = (ROWS - 1) * 2 * LANES + LANES;
        let (scales, [[a, b], [c, d]]) = (*scales, *colours);
        for (frame, rows) in frames.iter().zip(rows.chunks_mut(distance)) {
            let frame = *frame;
            let rows: &mut [f32; ROOM] = rows.first_chunk_mut().expect("room for the rows");
            let (mut x, mut y) = ([0.0f32; LANES], [0.0f32; LANES]);
            for lane in 0..LANES {
                x[lane] = real(frame[lane]) * scales[lane];
            }
            for lane in 0..LANES {
                y[lane] = imaginary(frame[lane]) * scales[lane];
            }
            for lane in 0..LANES {
                rows[lane] = a[lane] * x[lane] - b[lane] * y[lane];
            }
            for lane in 0..LANES {
                rows[2 * LANES + lane] = a[lane] * y[lane] + b[lane] * x[lane];
            }
            for lane in 0..LANES {
                rows[4 * LANES + lane] = c[lane] * x[lane] - d[lane] * y[lane];
            }
            for lane in 0..LANES {
                rows[6 * LANES + lane] = c[lane] * y[lane] + d[lane] * x[lane];
            }
        }
    }
}

/// Real part of a packed cell.
#[expect(clippy::cast_precision_loss, reason = "16 bits")]
#[inline(always)]
fn real(packed: u32) -> f32 {
    ((packed << 16).cast_signed() >> 16) as f32
}

/// Imaginary part of a packed cell.
#[expect(clippy::cast_precision_loss, reason = "16 bits")]
#[inline(always)]
fn imaginary(packed: u32) -> f32 {
    (packed.cast_signed() >> 16) as f32
}
