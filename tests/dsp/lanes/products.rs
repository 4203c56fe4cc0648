//! Weighted sums of products: every copy gives the bits of the plain one, and the sums that the definition gives.

use deskside::dsp::lanes::{Isa, TALL, WIDE, add_weighted};

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
