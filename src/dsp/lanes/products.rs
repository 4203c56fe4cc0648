//! Sums of products of channels, weighted by each source in turn.
//!
//! Takes the values of channels in a frame, gives their products; takes those frame by frame and a weight for each source and frame, gives
//! for each source the weighted sum of each product. It is a product of two matrices, tiled so that sums stay in registers.

use super::isa::dispatch;

/// Products that are summed side by side.
pub const WIDE: usize = 16;

/// Sources that are summed side by side.
pub const TALL: usize = 4;

dispatch! {
    narrow
    /// Adds to `sums` (source by source, in each the products) the products of each frame times the source's weight.
    ///
    /// `products` holds frame by frame `n_products` values, `weights` frame by frame `n_sources`.
    ///
    /// # Panics
    ///
    /// If `n_products` is no multiple of [`WIDE`] or `n_sources` none of [`TALL`], or the slices don't fit.
    pub fn add_weighted[](
        products: &[f32],
        weights: &[f32],
        n_products: usize,
        n_sources: usize,
        sums: &mut [f64],
    ) {
        assert!(n_products.is_multiple_of(WIDE) && n_sources.is_multiple_of(TALL), "whole tiles");
        assert_eq!(products.len() / n_products, weights.len() / n_sources, "as many frames");
        assert_eq!(sums.len(), n_products * n_sources, "a sum for each source and product");
        for source in (0..n_sources).step_by(TALL) {
            for first in (0..n_products).step_by(WIDE) {
                let mut tile = [[0.0f32; WIDE]; TALL];
                let frames = products.chunks_exact(n_products).zip(weights.chunks_exact(n_sources));
                for (products, weights) in frames {
                    // Copies: behind references the compiler keeps the tile in memory.
                    let products: [f32; WIDE] =
                        products[first..first + WIDE].try_into().expect("a tile is whole");
                    let weights: [f32; TALL] =
                        weights[source..source + TALL].try_into().expect("a tile is whole");
                    for (row, weight) in tile.iter_mut().zip(weights) {
                        for column in 0..WIDE {
                            row[column] += weight * products[column];
                        }
                    }
                }
                for (idx, row) in tile.iter().enumerate() {
                    let start = (source + idx) * n_products + first;
                    widen(row, &mut sums[start..start + WIDE]);
                }
            }
        }
    }
}

/// Adds single to double precision. A call of its own: where the compiler sees that a tile ends as wider numbers, it sums it in half
/// registers.
#[inline(never)]
fn widen(row: &[f32; WIDE], sums: &mut [f64]) {
    for (sum, &x) in sums.iter_mut().zip(row) {
        *sum += f64::from(x);
    }
}

dispatch! {
    narrow
    /// Products of each value with the conjugates of itself and the later ones: all real parts, then all imaginary ones, value by value.
    ///
    /// # Panics
    ///
    /// If there are not as many real as imaginary parts, or `products` is too short.
    pub fn pair_products[](re: &[f32], im: &[f32], products: &mut [f32]) {
        let n = re.len();
        assert!(im.len() == n && products.len() >= n * (n + 1), "a place for each product");
        let mut row = products;
        for i in 0..n {
            let (a, b) = (re[i], im[i]);
            let (reals, rest) = row.split_at_mut(n - i);
            let (imaginaries, rest) = rest.split_at_mut(n - i);
            for (((real, imaginary), c), d) in
                reals.iter_mut().zip(imaginaries).zip(&re[i..]).zip(&im[i..])
            {
                *real = a * c + b * d;
                *imaginary = b * c - a * d;
            }
            row = rest;
        }
    }
}
