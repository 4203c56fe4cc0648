//! Trends against published examples, other libraries, and all orders counted one by one.

use deskside::trend::kendall::trend;
use proptest::prelude::*;

use super::series;
use crate::support::reference::Table;

/// The reference values have ten digits.
const COMPUTED: f64 = 1e-9;
/// The other libraries' values have fifteen.
const OTHER: f64 = 1e-11;

#[test]
fn worked_examples_of_gilbert_and_the_epa_come_out() {
    // Gilbert (1987) and US EPA QA/G-9 print one-sided p 0.167 and 0.117 for S = 4 and S = 6.
    let table = Table::read("mann_kendall_theil_sen.csv");
    for row in 0..table.len() {
        let found = trend(&series(table.text(row, "data")));
        let name = table.text(row, "case");
        assert_eq!(found.s, table.text(row, "S").parse::<i64>().unwrap(), "S of {name}");
        let exact = table.text(row, "exact_one_sided_p");
        let expected = if exact.is_empty() {
            table.number(row, "normal_two_sided_p")
        } else {
            // Two-sided is twice one-sided: the distribution is symmetric.
            2.0 * exact.parse::<f64>().unwrap()
        };
        assert!((found.p - expected).abs() < COMPUTED, "{name}: {} and {expected}", found.p);
    }
}

#[test]
fn perfect_order_of_few_values_has_the_printed_probability() {
    // 2 / n!: one order rises all the way, one falls.
    for (n, p) in [(4, 2.0 / 24.0), (5, 2.0 / 120.0), (6, 2.0 / 720.0), (8, 2.0 / 40_320.0)] {
        let rising: Vec<f64> = (0..n).map(f64::from).collect();
        assert!((trend(&rising).p - p).abs() < 1e-15, "{n} values");
        assert_eq!(trend(&rising).s, trend(&rising).n_pairs, "every pair rises");
    }
}

#[test]
fn the_needed_sums_are_those_of_the_tables() {
    // Least |S| with two-sided p below 0.05 (from the tables in Gilbert 1987): 10, 13, 15, 18, 20, 23 for 5 to 10 values.
    for (n, needed) in [(5_u8, 10), (6, 13), (7, 15), (8, 18), (9, 20), (10, 23)] {
        let mut reached = i64::MAX;
        // Move the smallest value to the right, place by place: each step lowers S by 2; then the next.
        let mut values: Vec<f64> = (0..n).map(f64::from).collect();
        for fixed in 0..values.len() {
            for at in 0..values.len() - 1 - fixed {
                let found = trend(&values);
                if found.p < 0.05 && found.s > 0 {
                    reached = reached.min(found.s);
                }
                values.swap(at, at + 1);
            }
        }
        assert_eq!(reached, needed, "{n} values");
    }
}

#[test]
fn trends_are_those_of_other_libraries() {
    let table = Table::read("trend_oracle.csv");
    assert!(table.len() > 50, "the table is there");
    for row in 0..table.len() {
        let found = trend(&series(table.text(row, "data")));
        let name = table.text(row, "case");
        assert_eq!(found.s, table.text(row, "s").parse::<i64>().unwrap(), "S of {name}");
        let p = table.number(row, "p_two_sided");
        assert!((found.p - p).abs() < OTHER, "{name}: found {}, expected {p}", found.p);
    }
}

/// Every order of a series, by moving each value to the front of the orders of the rest.
fn orders(values: &[i32]) -> Vec<Vec<i32>> {
    if values.is_empty() {
        return vec![Vec::new()];
    }
    (0..values.len())
        .flat_map(|first| {
            let mut rest = values.to_vec();
            let head = rest.remove(first);
            orders(&rest).into_iter().map(move |mut order| {
                order.insert(0, head);
                order
            })
        })
        .collect()
}

fn sum(values: &[i32]) -> i32 {
    let pairs = values.iter().enumerate();
    pairs.flat_map(|(at, a)| values[at + 1..].iter().map(move |b| (b - a).signum())).sum()
}

proptest! {
    #[test]
    fn up_to_ten_values_every_order_counts_also_with_equal_ones(values in prop::collection::vec(0..4_i32, 1..7)) {
        let all = orders(&values);
        let n_as_far = all.iter().filter(|order| sum(order).abs() >= sum(&values).abs()).count();
        let expected = n_as_far as f64 / all.len() as f64;
        let floats: Vec<f64> = values.iter().copied().map(f64::from).collect();
        prop_assert!((trend(&floats).p - expected).abs() < 1e-12);
    }

    #[test]
    fn a_series_read_backwards_has_the_opposite_trend(values in prop::collection::vec(-9..9_i32, 2..40)) {
        let there: Vec<f64> = values.iter().copied().map(f64::from).collect();
        let back: Vec<f64> = there.iter().rev().copied().collect();
        let (there, back) = (trend(&there), trend(&back));
        prop_assert_eq!(there.s, -back.s);
        prop_assert!((there.p - back.p).abs() < 1e-15);
        prop_assert!(there.p > 0.0 && there.p <= 1.0 + 1e-15);
    }
}
