//! Tails of the normal distribution against printed tables.

use deskside::trend::normal::{Z_95, two_sided};

/// The printed values have ten digits.
const TOLERANCE: f64 = 5e-11;

#[test]
fn tails_are_those_of_the_printed_tables() {
    // erfc(1), erfc(2), erfc(3), erfc(4): Abramowitz and Stegun, table 7.1 and NIST Digital Library of Mathematical
    // Functions 7.2 (from memory).
    for (x, tail) in [
        (1.0, 0.157_299_207_050_285_13),
        (2.0, 0.004_677_734_981_047_266),
        (3.0, 2.209_049_699_858_544e-5),
        (4.0, 1.541_725_790_028_002e-8),
    ] {
        let found = two_sided(x * std::f64::consts::SQRT_2);
        assert!(
            (found / tail - 1.0).abs() < TOLERANCE,
            "erfc({x}): found {found}, expected {tail}"
        );
        assert!(two_sided(-x) < 1.0 && (two_sided(-x) - two_sided(x)).abs() < 1e-15, "either side");
    }
}

#[test]
fn five_percent_lie_beyond_1_96() {
    assert!((two_sided(Z_95) - 0.05).abs() < 1e-15, "found {}", two_sided(Z_95));
    assert!((two_sided(0.0) - 1.0).abs() < 1e-15, "everything lies beyond zero");
}

#[test]
fn both_ways_agree_where_they_meet() {
    // The tail falls by 0.0013 % over this step: what lies beside it is the difference of the two ways.
    let meet = 3.0 * std::f64::consts::SQRT_2;
    let (near, far) = (two_sided(meet - 1e-9), two_sided(meet + 1e-9));
    assert!(near > far && near / far - 1.0 < 1e-8, "found {near} and {far}");
}
