//! Thresholds that part strokes from spill: levels that are planted, so that both errors of every threshold are known.

use deskside::measure::Trace;
use deskside::measure::parting::threshold;
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::assert_near;

/// Squared peaks: a hit every half second at these levels, silence of -80 dBFS between.
fn trace(levels_dbfs: &[f64]) -> Trace {
    let mut trace = Trace::new(0.01);
    for level_dbfs in levels_dbfs {
        for step in 0..50 {
            let level_dbfs = if (10..14).contains(&step) { *level_dbfs } else { -80.0 };
            trace.push_power(10f64.powf(level_dbfs / 10.0));
        }
    }
    trace
}

/// Where the hits with these numbers sound; they are heard 30 ms late.
fn sounding(is_own: impl Fn(usize) -> bool, n: usize) -> Vec<Span> {
    let own = (0..n).filter(|number| is_own(*number));
    own.map(|number| 0.5 * number as f64 + 0.13).map(|at_s| Span::new(at_s, at_s + 0.2)).collect()
}

#[test]
fn strokes_above_all_spill_are_parted_in_the_middle_of_the_gap() {
    let levels: Vec<f64> = (0..40).map(|n| if n % 2 == 0 { -10.0 } else { -30.0 }).collect();
    let found = threshold(&trace(&levels), &sounding(|n| n % 2 == 0, 40)).unwrap();
    assert_near(found.threshold_dbfs, -20.0, 1e-6, "threshold");
    assert_near(found.overlap_percent, 0.0, 1e-9, "overlap");
}

#[test]
fn a_tenth_of_the_strokes_under_the_spill_is_an_overlap_of_a_tenth() {
    // Of twenty strokes two are softer than all twenty of the spill.
    let level = |n: usize| match n {
        0 | 2 => -28.0,
        n if n.is_multiple_of(2) => -8.0,
        _ => -20.0,
    };
    let levels: Vec<f64> = (0..40).map(level).collect();
    let found = threshold(&trace(&levels), &sounding(|n| n % 2 == 0, 40)).unwrap();
    assert_near(found.overlap_percent, 10.0, 1e-9, "two of twenty");
    assert_near(found.threshold_dbfs, -14.0, 1e-6, "between spill and loud strokes");
}

#[test]
fn strokes_and_spill_of_the_same_levels_can_not_be_parted() {
    let levels: Vec<f64> = (0..40).map(|n| -10.0 - (n / 2) as f64 * 0.5).collect();
    let found = threshold(&trace(&levels), &sounding(|n| n % 2 == 0, 40)).unwrap();
    assert!(found.overlap_percent > 90.0, "{found:?}");
}

#[test]
fn few_hits_of_either_kind_tell_nothing() {
    let levels = vec![-10.0; 40];
    let found = threshold(&trace(&levels), &sounding(|n| n < 35, 40));
    assert_eq!(found, Err(Unmeasured::TooFewEvents { have: 5, need: 12 }));
}
