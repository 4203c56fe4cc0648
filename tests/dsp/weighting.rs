//! Tests of `dsp::weighting`.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "rates in the tables are whole numbers"
)]

use deskside::dsp::biquad::{Biquad, gain_db};
use deskside::dsp::weighting;

use crate::support::feeding::assert_near;
use crate::support::reference::Table;

/// Digits of the coefficient table.
const COEFFICIENT_TOLERANCE: f64 = 1e-8;

/// Digits of the response table.
const RESPONSE_TOLERANCE_DB: f64 = 2e-6;

/// Digits of the published A and C table.
const TABLE_TOLERANCE_DB: f64 = 0.05 + 1e-9;

/// Up to here the filters follow the exact curves closely, which the limits of class 1 do not ask.
const CLOSE_HZ: f64 = 13_000.0;
const CLOSE_DB: f64 = 0.05 + TABLE_TOLERANCE_DB;

#[test]
fn k_sections_are_those_of_bs_1770_at_48_khz_and_their_kin_at_other_rates() {
    let table = Table::read("k_weighting_biquads.csv");
    for row in 0..table.len() {
        let stage = usize::from(table.text(row, "stage") == "stage2_highpass");
        let Biquad { b0, b1, b2, a1, a2 } = weighting::k(table.number(row, "fs_hz") as u32)[stage];
        for (column, found) in [("b0", b0), ("b1", b1), ("b2", b2), ("a1", a1), ("a2", a2)] {
            assert_near(found, table.number(row, column), COEFFICIENT_TOLERANCE, column);
        }
    }
}

#[test]
fn k_response_is_that_of_bs_1770() {
    let table = Table::read("k_weighting_response.csv");
    for (rate_hz, column) in [(48_000, "K_dB_48k"), (44_100, "K_dB_44k1"), (96_000, "K_dB_96k")] {
        for row in 0..table.len() {
            let frequency_hz = table.number(row, "f_exact_hz");
            let found = gain_db(&weighting::k(rate_hz), f64::from(rate_hz), frequency_hz);
            assert_near(found, table.number(row, column), RESPONSE_TOLERANCE_DB, column);
        }
    }
}

#[test]
fn the_curves_are_those_of_iec_61672() {
    let table = Table::read("iec61672_weightings.csv");
    assert_eq!(table.len(), 34, "10 Hz to 20 kHz");
    for row in 0..table.len() {
        let frequency_hz = table.number(row, "exact_hz");
        let (a_db, c_db) = (weighting::a_db(frequency_hz), weighting::c_db(frequency_hz));
        assert_near(a_db, table.number(row, "A_dB"), TABLE_TOLERANCE_DB, "A as printed");
        assert_near(c_db, table.number(row, "C_dB"), TABLE_TOLERANCE_DB, "C as printed");
        assert_near(a_db, table.number(row, "A_analytic_dB"), RESPONSE_TOLERANCE_DB, "A formula");
        assert_near(c_db, table.number(row, "C_analytic_dB"), RESPONSE_TOLERANCE_DB, "C formula");
    }
}

#[test]
fn the_filters_keep_class_1_of_iec_61672() {
    let table = Table::read("iec61672_weightings.csv");
    for rate_hz in [44_100, 48_000, 96_000] {
        for row in 0..table.len() {
            let (at_hz, rate) = (table.number(row, "exact_hz"), f64::from(rate_hz));
            let (low, high) =
                (table.number(row, "class1_lower"), table.number(row, "class1_upper"));
            let a = gain_db(&weighting::a(rate_hz), rate, at_hz) - table.number(row, "A_dB");
            let c = gain_db(&weighting::c(rate_hz), rate, at_hz) - table.number(row, "C_dB");
            for (name, off_db) in [("A", a), ("C", c)] {
                assert!(
                    low <= off_db && off_db <= high,
                    "{name} at {at_hz} Hz and {rate_hz} Hz is {off_db} dB off, lawful {low} to {high}"
                );
                assert!(
                    at_hz > CLOSE_HZ || off_db.abs() <= CLOSE_DB,
                    "{name} at {at_hz} Hz: {off_db} dB"
                );
            }
        }
    }
}
