//! Tests of `dsp::percentile`.

use deskside::dsp::percentile::{is_above, median, nearest, percentile};

use crate::support::feeding::assert_near;
use crate::support::planted::Dice;

/// Arithmetic in double precision.
const TOLERANCE: f64 = 1e-12;

#[test]
fn percentiles_lie_between_neighbours() {
    // Definition 7 of Hyndman & Fan 1996, worked by hand: place (n - 1) p = 3 x 0.25 = 0.75 of 15, 20, 35, 50.
    let values = [50.0, 15.0, 35.0, 20.0];
    assert_near(percentile(&values, 0.25).expect("a value"), 18.75, TOLERANCE, "25 %");
    assert_near(percentile(&values, 0.0).expect("a value"), 15.0, TOLERANCE, "0 %");
    assert_near(percentile(&values, 1.0).expect("a value"), 50.0, TOLERANCE, "100 %");
    assert_near(median(&values).expect("a value"), 27.5, TOLERANCE, "median");
}

#[test]
fn the_nearest_value_is_one_of_the_values() {
    // EBU Tech 3342: index round((n - 1) p); 0.95 x 10 = 9.5 goes up.
    let values: Vec<f64> = (0..11).map(f64::from).collect();
    assert_near(nearest(&values, 0.95).expect("a value"), 10.0, TOLERANCE, "95 %");
    assert_near(nearest(&values, 0.94).expect("a value"), 9.0, TOLERANCE, "94 %");
}

#[test]
fn no_values_have_no_percentile() {
    assert_eq!((percentile(&[], 0.5), nearest(&[], 0.5)), (None, None), "no value is no value");
}

#[test]
fn values_in_any_order_have_the_percentiles_of_the_sorted_ones_to_the_last_bit() {
    let mut dice = Dice::new(3);
    for n in [1, 2, 3, 16, 17, 100, 1_001] {
        // Tenths, so that many are alike.
        let values: Vec<f64> = (0..n).map(|_| (10.0 * dice.normal()).round() / 10.0).collect();
        let mut sorted = values.clone();
        sorted.sort_by(f64::total_cmp);
        for share in [0.0, 0.03, 0.25, 0.5, 0.9, 0.95, 0.999, 1.0] {
            let place = share * (n - 1) as f64;
            let (below, above) = (sorted[place.floor() as usize], sorted[place.ceil() as usize]);
            let expected = below + place.fract() * (above - below);
            assert_eq!(percentile(&values, share), Some(expected), "{share} of {n}");
        }
    }
}

#[test]
fn a_count_tells_what_the_percentile_tells() {
    let mut dice = Dice::new(5);
    let values: Vec<f64> = (0..500).map(|_| dice.normal().abs()).collect();
    for share in [0.0, 0.5, 0.9, 0.99, 1.0] {
        let middle = percentile(&values, share).expect("a value");
        let near = [0.0, middle.next_down(), middle, middle.next_up(), 1.0, 9.0];
        for limit in near.into_iter().chain(values.iter().copied()) {
            let is_higher = middle > limit;
            assert_eq!(is_above(&values, share, limit), is_higher, "{share} over {limit}");
        }
    }
    assert!(!is_above(&[], 0.5, -1.0), "no value lies above anything");
}
