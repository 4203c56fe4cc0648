//! Products of pairs and their weighted sums: every copy gives the bits of the plain one, and what the definition gives.

use deskside::dsp::lanes::{Isa, TALL, WIDE, add_weighted, pair_products};
use realfft::num_complex::Complex32;

use crate::support::signals::noise;

/// 50 products of about 0.1 in single precision.
const TOLERANCE: f64 = 1e-5;

#[test]
fn every_copy_gives_the_sums_of_the_definition() {
    let (n_products, n_sources, n_frames) = (2 * WIDE, 3 * TALL, 50);
    let products = noise(1, 0.3, n_products * n_frames);
    let weights = noise(2, 0.3, n_sources * n_frames);
    let mut first: Option<Vec<f64>> = None;
    for isa in Isa::all() {
        // What stands there already is added to.
        let mut sums = vec![1.0; n_products * n_sources];
        add_weighted(isa, &products, &weights, n_products, n_sources, &mut sums);
        for source in 0..n_sources {
            for product in 0..n_products {
                let frames = 0..n_frames;
                let expected: f64 = frames
                    .map(|frame| {
                        f64::from(products[frame * n_products + product])
                            * f64::from(weights[frame * n_sources + source])
                    })
                    .sum();
                let found = sums[source * n_products + product] - 1.0;
                assert!((found - expected).abs() < TOLERANCE, "{isa:?}: {found}, not {expected}");
            }
        }
        assert_eq!(&sums, first.get_or_insert(sums.clone()), "{isa:?}: other bits");
    }
}

#[test]
fn every_copy_gives_each_value_times_the_conjugates_of_itself_and_the_later_ones() {
    // Longer than a register, with a rest.
    let n = 21;
    let (re, im) = (noise(3, 0.3, n), noise(4, 0.3, n));
    let value = |k: usize| Complex32::new(re[k], im[k]);
    for isa in Isa::all() {
        let mut products = vec![0.0; n * (n + 1)];
        pair_products(isa, &re, &im, &mut products);
        let mut rest = products.as_slice();
        for i in 0..n {
            let (reals, after) = rest.split_at(n - i);
            let (imaginaries, after) = after.split_at(n - i);
            for (j, (&real, &imaginary)) in (i..n).zip(reals.iter().zip(imaginaries)) {
                assert_eq!(Complex32::new(real, imaginary), value(i) * value(j).conj(), "{isa:?}");
            }
            rest = after;
        }
        assert!(rest.is_empty());
    }
}
