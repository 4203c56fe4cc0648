//! Statistics against published examples, other libraries and plain counting.

mod holm;
mod kendall;
mod normal;
mod rate;
mod slope;
mod verdict;

/// The numbers of a cell: `10 15 14 20`.
fn series(cell: &str) -> Vec<f64> {
    cell.split_whitespace().map(|number| number.parse().unwrap()).collect()
}
