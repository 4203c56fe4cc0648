//! Numbers as people read them: the one place of rounding.
//!
//! Takes values with their unit, gives text. Never prints a number that is not one, and never a negative zero.

use crate::unit::{Fact, Span, Unit};

/// What stands where there is no value.
pub const NO_VALUE: &str = "–";

/// A number with a fixed count of decimals; a rounded zero has no sign.
fn rounded(value: f64, n_decimals: usize) -> String {
    let text = format!("{value:.n_decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_owned(),
        _ => text,
    }
}

/// How many decimals a unit is written with in tables: one for levels and times, none for counts and shares, two for pure numbers.
const fn n_decimals(unit: Unit) -> usize {
    match unit {
        Unit::Db
        | Unit::Dbfs
        | Unit::Dbtp
        | Unit::Lufs
        | Unit::Lu
        | Unit::DbPerOctave
        | Unit::DbPerHour
        | Unit::Seconds
        | Unit::Milliseconds
        | Unit::PerMinute
        | Unit::PerHour => 1,
        Unit::Hz | Unit::Percent | Unit::Count => 0,
        Unit::Correlation | Unit::Ratio => 2,
    }
}

/// A number without its unit, for a table whose heading names the unit: `-18.2`.
pub fn bare(value: f64, unit: Unit) -> String {
    rounded(value, n_decimals(unit))
}

/// A share of 1 in percent: `97 %`.
pub fn percent(share: f64) -> String {
    with_unit(100.0 * share, Unit::Percent)
}

/// A number with its unit: `-18.2 dBFS`.
pub fn with_unit(value: f64, unit: Unit) -> String {
    format!("{}{}", bare(value, unit), unit.symbol())
}

/// A whole number with its unit, for sentences: `-18 dBFS`.
pub fn whole_with_unit(value: f64, unit: Unit) -> String {
    format!("{}{}", rounded(value, 0), unit.symbol())
}

/// A mark on a scale with its unit, with as few decimals as it needs: `-20 dB`, `0.5 s`.
pub fn tick(value: f64, unit: Unit) -> String {
    let is_whole = |scaled: f64| (scaled - scaled.round()).abs() < 1e-6;
    let n_decimals = (0..3).find(|n| is_whole(value * 10_f64.powi(*n))).unwrap_or(3);
    format!("{}{}", rounded(value, usize::try_from(n_decimals).unwrap_or(3)), unit.symbol())
}

/// A range with its unit; one end may be open: `-24.0 to -12.0 dBFS`, `at most 3 %`.
pub fn range(low: Option<f64>, high: Option<f64>, unit: Unit) -> String {
    match (low, high) {
        (Some(low), Some(high)) => format!("{} to {}", bare(low, unit), with_unit(high, unit)),
        (Some(low), None) => format!("at least {}", with_unit(low, unit)),
        (None, Some(high)) => format!("at most {}", with_unit(high, unit)),
        (None, None) => NO_VALUE.to_owned(),
    }
}

/// A fact with its unit: a value, a bound, a range, or [`NO_VALUE`].
pub fn fact(fact: &Fact, unit: Unit) -> String {
    match fact {
        Fact::Value { value, .. } => with_unit(*value, unit),
        Fact::AtMost { at_most, .. } => range(None, Some(*at_most), unit),
        Fact::AtLeast { at_least, .. } => range(Some(*at_least), None, unit),
        Fact::Range { low, high, .. } => range(Some(*low), Some(*high), unit),
        Fact::Missing { .. } => NO_VALUE.to_owned(),
    }
}

/// A fact for a column whose heading names the unit: `-18.2`, `<-60.0`, `>3.0`, or [`NO_VALUE`].
pub fn cell(fact: &Fact, unit: Unit) -> String {
    match fact {
        Fact::Value { value, .. } => bare(*value, unit),
        Fact::AtMost { at_most, .. } => format!("<{}", bare(*at_most, unit)),
        Fact::AtLeast { at_least, .. } => format!(">{}", bare(*at_least, unit)),
        Fact::Range { low, high, .. } => format!("{}..{}", bare(*low, unit), bare(*high, unit)),
        Fact::Missing { .. } => NO_VALUE.to_owned(),
    }
}

/// A moment in the session: `01:24`, from the first hour on `1:01:24`. Cut to the second, so that it never lies ahead.
pub fn clock(at_s: f64) -> String {
    let (hours, minutes, seconds) = split(at_s.max(0.0).floor());
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes:02}:{seconds:02}")
    }
}

/// A stretch of the session: `01:24 to 01:50`; a moment where both ends fall into one second.
pub fn stretch(span: Span) -> String {
    let (start, end) = (clock(span.start_s), clock(span.end_s));
    if start == end { start } else { format!("{start} to {end}") }
}

/// A length of time: `8.5 s`, `1 min 30 s`, `1 h 05 min`.
pub fn length(length_s: f64) -> String {
    if length_s < 59.95 {
        return with_unit(length_s.max(0.0), Unit::Seconds);
    }
    let (hours, minutes, seconds) = split(length_s.round());
    match (hours, seconds) {
        (1.., _) => format!("{hours} h {minutes:02} min"),
        (_, 0) => format!("{minutes} min"),
        _ => format!("{minutes} min {seconds:02} s"),
    }
}

/// Hours, minutes and seconds of a whole number of seconds.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a session lasts hours: a whole number of seconds, not below 0"
)]
fn split(whole_s: f64) -> (u64, u64, u64) {
    let whole_s = whole_s as u64;
    (whole_s / 3600, whole_s / 60 % 60, whole_s % 60)
}
