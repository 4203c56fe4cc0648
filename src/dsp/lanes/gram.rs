//! Sums of products of every pair of columns.
//!
//! Takes rows in panels of sixteen columns, gives the products of the columns of two of them. Tiled so that sums stay in registers, and two
//! panels stay in the first cache.

use super::isa::dispatch;
use super::products::{TALL, WIDE};

/// Columns of a row that lie side by side.
pub type Panel = [f32; WIDE];

/// A sum for each column of one panel with each of another.
pub type Pairs = [Panel; WIDE];

dispatch! {
    narrow
    /// Adds to `sums` the products of every column of one panel with every column of another, over all rows: columns of the first downwards,
    /// those of the second across.
    ///
    /// # Panics
    ///
    /// If the panels don't have as many rows.
    pub fn add_pairs[](down: &[Panel], across: &[Panel], sums: &mut Pairs) {
        assert_eq!(down.len(), across.len(), "as many rows");
        for top in (0..WIDE).step_by(TALL) {
            let mut tile = [[0.0f32; WIDE]; TALL];
            for (down, across) in down.iter().zip(across) {
                // Copies: behind references the compiler keeps the tile in memory.
                let across = *across;
                let factors: [f32; TALL] = down[top..top + TALL].try_into().expect("a tile is whole");
                for (sums, factor) in tile.iter_mut().zip(factors) {
                    for column in 0..WIDE {
                        sums[column] += factor * across[column];
                    }
                }
            }
            for (sums, row) in sums[top..top + TALL].iter_mut().zip(&tile) {
                for column in 0..WIDE {
                    sums[column] += row[column];
                }
            }
        }
    }
}

dispatch! {
    narrow
    /// Sums of the rows, each times a factor.
    ///
    /// # Panics
    ///
    /// If there is not a factor for each row.
    pub fn weighted_sum[](rows: &[Panel], factors: &[f32]) -> Panel {
        assert_eq!(rows.len(), factors.len(), "a factor for each row");
        let mut sum = [0.0f32; WIDE];
        for (row, factor) in rows.iter().zip(factors) {
            let row = *row;
            for column in 0..WIDE {
                sum[column] += factor * row[column];
            }
        }
        sum
    }
}

dispatch! {
    narrow
    /// Adds single to double precision.
    pub fn widen[](sums: &mut [[f64; WIDE]; WIDE], more: &Pairs) {
        for (sums, more) in sums.iter_mut().zip(more) {
            for column in 0..WIDE {
                sums[column] += f64::from(more[column]);
            }
        }
    }
}
