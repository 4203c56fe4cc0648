//! Times, dates, cues and roles as people write them.
//!
//! Takes values of `session.toml`, gives seconds and words. Never guesses: what is no time is an error that says how
//! to write one.

use serde::de::{Deserialize, Deserializer, Error};

use super::keys::Cue;
use super::near::nearest;
use crate::session::role::Role;

/// A time: seconds as a number, or text.
#[derive(serde::Deserialize)]
#[serde(untagged, expecting = "a time is a number of seconds or a text such as \"02:18\"")]
enum Time {
    Seconds(f64),
    Text(String),
}

impl Time {
    fn seconds<E: Error>(&self) -> Result<f64, E> {
        match self {
            Self::Seconds(seconds) if seconds.is_finite() && *seconds >= 0.0 => Ok(*seconds),
            Self::Seconds(seconds) => Err(E::custom(format!("`{seconds}` is no time, {HOW}"))),
            Self::Text(text) => {
                clock(text).ok_or_else(|| E::custom(format!("`{text}` is no time, {HOW}")))
            }
        }
    }
}

const HOW: &str = "write seconds or \"mm:ss\" or \"h:mm:ss\"";

/// A time that has to be there, in seconds.
pub(super) fn seconds<'de, D: Deserializer<'de>>(value: D) -> Result<f64, D::Error> {
    Time::deserialize(value)?.seconds()
}

/// A time that may be there, in seconds.
pub(super) fn optional_seconds<'de, D: Deserializer<'de>>(
    value: D,
) -> Result<Option<f64>, D::Error> {
    seconds(value).map(Some)
}

/// `mm:ss` or `h:mm:ss`, with or without a fraction, in seconds. Minutes may pass 59 only if there are no hours.
pub(super) fn clock(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.trim().split(':').collect();
    let (hours, minutes, seconds) = match parts[..] {
        [minutes, seconds] => ("0", minutes, seconds),
        [hours, minutes, seconds] => (hours, minutes, seconds),
        _ => return None,
    };
    let whole = |text: &str| -> Option<u32> {
        text.bytes().all(|b| b.is_ascii_digit()).then(|| text.parse().ok()).flatten()
    };
    let (hours, whole_minutes) = (whole(hours)?, whole(minutes)?);
    if seconds.starts_with(['+', '-', '.']) || (parts.len() == 3 && whole_minutes > 59) {
        return None;
    }
    let seconds: f64 = seconds.parse().ok()?;
    (0.0..60.0)
        .contains(&seconds)
        .then(|| f64::from(hours) * 3600.0 + f64::from(whole_minutes) * 60.0 + seconds)
}

impl<'de> Deserialize<'de> for Cue {
    fn deserialize<D: Deserializer<'de>>(value: D) -> Result<Self, D::Error> {
        let line = String::deserialize(value)?;
        let wrong = || {
            D::Error::custom(format!("`{line}` is no cue, write a time and who: \"02:18 fiddle\""))
        };
        let (time, text) = line.trim().split_once(char::is_whitespace).ok_or_else(wrong)?;
        let at_s = clock(time).ok_or_else(wrong)?;
        Ok(Self { at_s, text: text.trim().to_owned() })
    }
}

/// A date, as text or as TOML's own kind.
pub(super) fn date<'de, D: Deserializer<'de>>(value: D) -> Result<Option<String>, D::Error> {
    #[derive(serde::Deserialize)]
    #[serde(untagged, expecting = "a date is written \"2031-05-06\"")]
    enum Date {
        Own(toml::value::Datetime),
        Text(String),
    }
    let text = match Date::deserialize(value)? {
        Date::Own(date) => date.to_string(),
        Date::Text(text) => text,
    };
    if is_date(&text) {
        Ok(Some(text))
    } else {
        Err(D::Error::custom(format!("`{text}` is no date, write year-month-day: \"2031-05-06\"")))
    }
}

/// Whether a text is a day of the Gregorian calendar, `YYYY-MM-DD`.
fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return false };
    let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
    if (year.len(), month.len(), day.len()) != (4, 2, 2) || !parts.iter().all(|p| digits(p)) {
        return false;
    }
    let [Ok(year), Ok(month), Ok(day)] = [year, month, day].map(str::parse::<u32>) else {
        return false;
    };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 => 28 + u32::from(leap),
        _ => 0,
    };
    (1..=days).contains(&day)
}

/// A role by its word, `lead vocal` or `lead-vocal`.
pub(super) fn role<'de, D: Deserializer<'de>>(value: D) -> Result<Option<Role>, D::Error> {
    let text = String::deserialize(value)?;
    Role::from_word(&text).map(Some).ok_or_else(|| {
        let words = Role::ALL.map(Role::word);
        D::Error::custom(match nearest(&text, &words) {
            Some(near) => format!("there is no role `{text}`, write `{near}`"),
            None => format!("there is no role `{text}`, write one of {}", words.join(", ")),
        })
    })
}
