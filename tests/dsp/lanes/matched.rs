//! One channel under a symmetric filter, and its products with itself: every copy gives the same bits, and the sums of the definition.

use deskside::dsp::lanes::{CELL, Isa, lagged_sums, largest_outputs};

use crate::support::signals::noise;

/// 500 products of about 0.1, each sum rounded to 24 bits.
const TOLERANCE: f64 = 1e-4;

#[test]
fn cells_hold_the_largest_output_of_the_filter() {
    let (x, half) = (noise(30, 0.3, 5 * CELL + 8 + 17), [0.9, -0.5, 0.2, 0.1, -0.05]);
    let mut first = None;
    for isa in Isa::all() {
        let mut cells = Vec::new();
        largest_outputs(isa, &x, &half, &mut cells);
        assert_eq!(cells.len(), 5, "{isa:?}: whole cells with four samples on both sides");
        for (idx, cell) in cells.iter().enumerate() {
            let output = |n: usize| {
                let at = 4 + idx * CELL + n;
                let tap = |away: usize| f64::from(half[away]);
                let side = |away: usize| f64::from(x[at - away]) + f64::from(x[at + away]);
                tap(0) * f64::from(x[at]) + (1..5).map(|away| tap(away) * side(away)).sum::<f64>()
            };
            let expected = (0..CELL).map(|n| output(n).abs()).fold(0.0, f64::max);
            assert!((f64::from(*cell) - expected).abs() < TOLERANCE, "{isa:?} {idx}: {cell}");
        }
        assert_eq!(&cells, first.get_or_insert(cells.clone()), "{isa:?}: other bits");
    }
}

#[test]
fn products_are_summed_lag_by_lag() {
    let x = noise(31, 0.3, 496 + 4);
    let mut first = None;
    for isa in Isa::all() {
        let sums: [f32; 5] = lagged_sums(isa, &x);
        for (lag, sum) in sums.iter().enumerate() {
            let products = x[..496].iter().zip(&x[lag..]);
            let expected: f64 = products.map(|(x, y)| f64::from(*x) * f64::from(*y)).sum();
            assert!((f64::from(*sum) - expected).abs() < TOLERANCE, "{isa:?} {lag}: {sum}");
        }
        let bits = sums.map(f32::to_bits);
        assert_eq!(bits, *first.get_or_insert(bits), "{isa:?}: other bits");
    }
}
