//! Slopes against the published example, another library, and what a robust slope has to do.

use deskside::trend::slope::slope;
use proptest::prelude::*;

use super::series;
use crate::support::reference::Table;

/// The reference values have ten digits.
const COMPUTED: f64 = 1e-9;
/// The other library's values have fifteen, and its slopes are of the same few operations.
const OTHER: f64 = 1e-12;

#[test]
fn worked_examples_come_out() {
    let table = Table::read("mann_kendall_theil_sen.csv");
    for row in 0..table.len() {
        let found = slope(&series(table.text(row, "data"))).unwrap().per_session;
        let expected = table.number(row, "sen_slope");
        assert!((found - expected).abs() < COMPUTED, "found {found}, expected {expected}");
    }
    // 95 % of the twelve rising weekly values: 0.1875 to 0.35, by scipy 1.17.1.
    let rising = slope(&series(table.text(2, "data"))).unwrap();
    assert!((rising.low_per_session - 0.1875).abs() < COMPUTED, "{rising:?}");
    assert!((rising.high_per_session - 0.35).abs() < COMPUTED, "{rising:?}");
}

#[test]
fn slopes_are_those_of_another_library() {
    let table = Table::read("trend_oracle.csv");
    for row in 0..table.len() {
        let found = slope(&series(table.text(row, "data"))).unwrap();
        let expected = ["slope", "slope_low", "slope_high"].map(|name| table.number(row, name));
        let found = [found.per_session, found.low_per_session, found.high_per_session];
        for (found, expected) in found.into_iter().zip(expected) {
            let name = table.text(row, "case");
            assert!((found - expected).abs() < OTHER, "{name}: found {found}, expected {expected}");
        }
    }
}

#[test]
fn one_session_has_no_slope() {
    assert_eq!(slope(&[]), None);
    assert_eq!(slope(&[3.0]), None);
}

proptest! {
    #[test]
    fn a_straight_line_is_found_and_one_odd_night_does_not_move_it(
        start in -30.0..30.0_f64, step in -3.0..3.0_f64, n in 8..20_u32, odd in 0..8_usize, by in -90.0..90.0_f64,
    ) {
        let mut values: Vec<f64> = (0..n).map(|at| start + step * f64::from(at)).collect();
        prop_assert!((slope(&values).unwrap().per_session - step).abs() < 1e-9);
        values[odd] += by;
        let found = slope(&values).unwrap();
        // Of n (n - 1) / 2 pairs n - 1 hold the odd night: fewer than half from 6 nights on.
        prop_assert!((found.per_session - step).abs() < 1e-9);
        prop_assert!(found.low_per_session <= found.per_session && found.per_session <= found.high_per_session);
    }
}
