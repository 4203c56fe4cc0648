//! Sums of products of every pair of columns.
//!
//! Takes rows of equal length, gives the upper half of `X^T X`. Tiled so that sums stay in registers; what lies below the
//! diagonal is left out tile by tile.

use super::isa::dispatch;
use super::products::{TALL, WIDE};

dispatch! {
    narrow
    /// Adds to `sums` (row by row, `n` by `n`) the products of every column with itself and those to its right.
    ///
    /// What lies left of the diagonal is only partly written and means nothing.
    ///
    /// # Panics
    ///
    /// If `n` is no multiple of [`WIDE`], or the slices don't fit.
    pub fn add_gram[](rows: &[f32], n: usize, sums: &mut [f32]) {
        assert!(n.is_multiple_of(WIDE) && rows.len().is_multiple_of(n.max(1)), "whole tiles and rows");
        assert_eq!(sums.len(), n * n, "a sum for each pair");
        for top in (0..n).step_by(TALL) {
            for left in (top / WIDE * WIDE..n).step_by(WIDE) {
                let mut tile = [[0.0f32; WIDE]; TALL];
                for row in rows.chunks_exact(n) {
                    // Copies: behind references the compiler keeps the tile in memory.
                    let right: [f32; WIDE] = row[left..left + WIDE].try_into().expect("a tile is whole");
                    let factors: [f32; TALL] = row[top..top + TALL].try_into().expect("a tile is whole");
                    for (sums, factor) in tile.iter_mut().zip(factors) {
                        for column in 0..WIDE {
                            sums[column] += factor * right[column];
                        }
                    }
                }
                for (idx, row) in tile.iter().enumerate() {
                    let start = (top + idx) * n + left;
                    for (sum, x) in sums[start..start + WIDE].iter_mut().zip(row) {
                        *sum += x;
                    }
                }
            }
        }
    }
}
