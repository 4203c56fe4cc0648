//! Tests of `dsp::percentile`.

use deskside::dsp::percentile::{median, nearest, percentile};

use crate::support::feeding::assert_near;

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
