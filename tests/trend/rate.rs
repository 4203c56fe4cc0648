//! Rates against the published intervals, another library, and what an interval has to do.

use deskside::trend::rate::Rate;
use proptest::prelude::*;

use crate::support::reference::Table;

/// The printed table has four digits.
const PRINTED: f64 = 5e-5;
/// The reference values have ten digits.
const COMPUTED: f64 = 1e-9;
/// The other library's values have fifteen.
const OTHER: f64 = 1e-12;

fn check(rate: Rate, low: f64, high: f64, tolerance: f64) {
    let (n_hits, n_chances) = (rate.n_hits, rate.n_chances);
    assert!(
        (rate.low_share - low).abs() < tolerance && (rate.high_share - high).abs() < tolerance,
        "{n_hits} of {n_chances}: found {} to {}, expected {low} to {high}",
        rate.low_share,
        rate.high_share
    );
}

fn of(table: &Table, row: usize, hits: &str, chances: &str) -> Rate {
    let count = |column: &str| table.text(row, column).parse().unwrap();
    Rate::of(count(hits), count(chances)).unwrap()
}

#[test]
fn intervals_are_those_of_newcombe_1998() {
    // Newcombe, Statistics in Medicine 17 (1998), table I, method 3; the values to ten digits were computed from the formula.
    let table = Table::read("wilson_intervals.csv");
    for row in 0..table.len() {
        let rate = of(&table, row, "successes", "n");
        check(rate, table.number(row, "wilson_low"), table.number(row, "wilson_high"), COMPUTED);
        if !table.text(row, "newcombe1998_low").is_empty() {
            let end = |name: &str| table.number(row, name);
            check(rate, end("newcombe1998_low"), end("newcombe1998_high"), PRINTED);
        }
    }
}

#[test]
fn intervals_are_those_of_another_library() {
    let table = Table::read("rate_oracle.csv");
    assert!(table.len() > 30, "the table is there");
    for row in 0..table.len() {
        let rate = of(&table, row, "hits", "chances");
        check(rate, table.number(row, "low"), table.number(row, "high"), OTHER);
    }
}

#[test]
fn without_a_chance_there_is_no_rate() {
    assert_eq!(Rate::of(0, 0), None);
}

proptest! {
    #[test]
    fn more_chances_with_the_same_share_narrow_the_interval(hits in 0_u32..40, more in 0_u32..40) {
        let (few, many) = (Rate::of(hits, hits + more + 1).unwrap(), Rate::of(4 * hits, 4 * (hits + more + 1)).unwrap());
        prop_assert!(few.low_share <= few.share && few.share <= few.high_share);
        prop_assert!(few.low_share >= 0.0 && few.high_share <= 1.0);
        prop_assert!(many.high_share - many.low_share < few.high_share - few.low_share);
    }

    #[test]
    fn hits_and_misses_mirror_each_other(hits in 0_u32..60, misses in 1_u32..60) {
        let (rate, mirrored) = (Rate::of(hits, hits + misses).unwrap(), Rate::of(misses, hits + misses).unwrap());
        prop_assert!((rate.low_share - (1.0 - mirrored.high_share)).abs() < 1e-12);
    }
}
