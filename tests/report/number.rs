//! Rounding, signs and times as people read them.

use deskside::report::number;
use deskside::unit::{Fact, Span, Unit, Unmeasured};

/// Each unit with a value and how it is written, worked by hand.
const WRITTEN: [(f64, Unit, &str); 16] = [
    (-0.04, Unit::Db, "0.0 dB"),
    (-18.25, Unit::Dbfs, "-18.2 dBFS"),
    (-0.96, Unit::Dbtp, "-1.0 dBTP"),
    (-23.04, Unit::Lufs, "-23.0 LUFS"),
    (2.96, Unit::Lu, "3.0 LU"),
    (-4.51, Unit::DbPerOctave, "-4.5 dB/octave"),
    (1.25, Unit::DbPerHour, "1.2 dB/h"),
    (49.98, Unit::Hz, "50 Hz"),
    (1.44, Unit::Seconds, "1.4 s"),
    (0.34, Unit::Milliseconds, "0.3 ms"),
    (12.5, Unit::Percent, "12 %"),
    (-0.004, Unit::Correlation, "0.00"),
    (24.0, Unit::Count, "24"),
    (3.21, Unit::PerMinute, "3.2 a minute"),
    (0.5, Unit::PerHour, "0.5 an hour"),
    (1.0884, Unit::Ratio, "1.09"),
];

#[test]
fn every_unit_is_written_with_its_symbol_and_its_decimals() {
    for (value, unit, expected) in WRITTEN {
        assert_eq!(number::with_unit(value, unit), expected);
    }
}

#[test]
fn sentences_carry_whole_decibels() {
    assert_eq!(number::whole_with_unit(-34.6, Unit::Dbfs), "-35 dBFS");
    assert_eq!(number::whole_with_unit(-0.4, Unit::Db), "0 dB");
}

#[test]
fn a_range_names_the_ends_it_has() {
    assert_eq!(number::range(Some(-24.0), Some(-12.0), Unit::Dbfs), "-24.0 to -12.0 dBFS");
    assert_eq!(number::range(None, Some(3.0), Unit::Percent), "at most 3 %");
    assert_eq!(number::range(Some(-1.0), None, Unit::Dbtp), "at least -1.0 dBTP");
    assert_eq!(number::range(None, None, Unit::Db), number::NO_VALUE);
}

#[test]
fn every_kind_of_fact_is_written() {
    let kinds = [
        (Fact::sure(-18.0, 0.9), "-18.0 dB", "-18.0"),
        (Fact::AtMost { at_most: -60.0, confidence: 1.0 }, "at most -60.0 dB", "<-60.0"),
        (Fact::AtLeast { at_least: 3.0, confidence: 1.0 }, "at least 3.0 dB", ">3.0"),
        (Fact::Range { low: 1.0, high: 2.0, confidence: 0.5 }, "1.0 to 2.0 dB", "1.0..2.0"),
        (Fact::missing(Unmeasured::Silent), number::NO_VALUE, number::NO_VALUE),
    ];
    for (fact, expected, cell) in kinds {
        assert_eq!(number::fact(&fact, Unit::Db), expected);
        assert_eq!(number::cell(&fact, Unit::Db), cell);
    }
}

#[test]
fn a_clock_counts_hours_from_the_first_hour_on_and_never_runs_ahead() {
    assert_eq!(number::clock(84.99), "01:24");
    assert_eq!(number::clock(3599.9), "59:59");
    assert_eq!(number::clock(3661.0), "1:01:01");
    assert_eq!(number::clock(-0.2), "00:00");
}

#[test]
fn a_stretch_within_one_second_is_a_moment() {
    assert_eq!(number::stretch(Span::new(84.2, 110.0)), "01:24 to 01:50");
    assert_eq!(number::stretch(Span::new(84.2, 84.9)), "01:24");
}

#[test]
fn lengths_are_written_in_the_units_people_use() {
    assert_eq!(number::length(8.46), "8.5 s");
    assert_eq!(number::length(59.97), "1 min");
    assert_eq!(number::length(90.0), "1 min 30 s");
    assert_eq!(number::length(500.0), "8 min 20 s");
    assert_eq!(number::length(3899.6), "1 h 05 min");
}
