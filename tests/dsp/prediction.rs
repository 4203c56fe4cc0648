//! Linear prediction against processes whose predictor is known in closed form, and filters against plain sums.

use deskside::dsp::prediction::{autocorrelation, error, error_filter, matched, matched_taps};

/// Sums of some tens of products, each rounded to 24 bits.
const TOLERANCE: f64 = 1e-5;

/// What the error filter of [`process`] is by definition.
const TAPS: [f64; 3] = [1.0, -1.2, 0.6];

/// Autocorrelation of `x(n) = 1.2 x(n-1) - 0.6 x(n-2) + noise`: the equations of Yule and Walker (1927, 1931).
fn process(n_lags: usize) -> Vec<f64> {
    let mut lags = vec![1.0, 1.2 / 1.6];
    for lag in 2..n_lags {
        lags.push(1.2 * lags[lag - 1] - 0.6 * lags[lag - 2]);
    }
    lags
}

#[test]
fn filter_of_a_known_process_is_that_process() {
    let taps = error_filter(&process(6));
    for (n, tap) in taps.iter().enumerate() {
        let expected = TAPS.get(n).copied().unwrap_or(0.0);
        assert!((tap - expected).abs() < 1e-9, "tap {n}: {tap}, a process of order 2");
    }
}

#[test]
fn products_are_summed_lag_by_lag() {
    let found = autocorrelation(&[1.0, 2.0, -3.0, 4.0], 2);
    assert_eq!(found, vec![30.0, 2.0 - 6.0 - 12.0, -3.0 + 8.0], "by hand");
}

/// `2 cos(w) x(n-1) - x(n-2)` continues a tone without any error.
#[test]
fn a_tone_leaves_no_error() {
    let step = 0.3_f32;
    let x: Vec<f32> = (0..100).map(|n| (step * n as f32).sin()).collect();
    let left = error(&x, &[1.0, -2.0 * step.cos(), 1.0]);
    assert_eq!(left.len(), 98, "one for each sample that two come before");
    assert!(left.iter().all(|error| f64::from(error.abs()) < TOLERANCE), "{left:?}");
}

#[test]
fn a_single_wrong_sample_is_lifted_to_its_place() {
    let taps = TAPS.map(|tap| tap as f32);
    let mut x = vec![0.0_f32; 20];
    x[9] = 1.0;
    let lifted = matched(&error(&x, &taps), &taps);
    // Both filters together are as long to each side as one of them: the first value belongs to sample 2.
    let height = TAPS.iter().map(|tap| tap * tap).sum::<f64>().sqrt();
    for (n, value) in lifted.iter().enumerate() {
        assert!(n + 2 == 9 || f64::from(value.abs()) < height - 0.1, "{n}: {value}");
    }
    assert!(
        (f64::from(lifted[7]) - height).abs() < TOLERANCE,
        "the root of its energy: {lifted:?}"
    );
}

#[test]
fn taps_of_both_filters_give_what_they_give_in_turn() {
    let filter = error_filter(&process(4));
    let half = matched_taps(&filter);
    let x: Vec<f32> = (0..60).map(|n| ((n * n) % 17) as f32 / 17.0 - 0.4).collect();
    let narrow: Vec<f32> = filter.iter().map(|tap| *tap as f32).collect();
    let in_turn = matched(&error(&x, &narrow), &narrow);
    for (n, value) in in_turn.iter().enumerate() {
        let at = n + half.len() - 1;
        let side = |away: usize| half[away] * f64::from(x[at - away] + x[at + away]);
        let at_once = half[0] * f64::from(x[at]) + (1..half.len()).map(side).sum::<f64>();
        assert!((f64::from(*value) - at_once).abs() < TOLERANCE, "{at}: {value} {at_once}");
    }
}
