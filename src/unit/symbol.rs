//! Units and how they are written.

use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Unit of a judged number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum Unit {
    /// Step of level: 20 lg of an amplitude ratio, 10 lg of a power ratio.
    #[serde(rename = "dB")]
    Db,
    /// Level re digital full scale. An RMS level is plain: a full-scale sine reads -3.0.
    #[serde(rename = "dBFS")]
    Dbfs,
    /// True peak re full scale (ITU-R BS.1770 annex 2).
    #[serde(rename = "dBTP")]
    Dbtp,
    /// Loudness (ITU-R BS.1770).
    #[serde(rename = "LUFS")]
    Lufs,
    /// Step of loudness.
    #[serde(rename = "LU")]
    Lu,
    /// Decibels per octave.
    #[serde(rename = "dB/octave")]
    DbPerOctave,
    /// Decibels per hour.
    #[serde(rename = "dB/h")]
    DbPerHour,
    /// Frequency.
    #[serde(rename = "Hz")]
    Hz,
    /// Time.
    #[serde(rename = "s")]
    Seconds,
    /// Time.
    #[serde(rename = "ms")]
    Milliseconds,
    /// Share, 0 to 100.
    #[serde(rename = "%")]
    Percent,
    /// Correlation or coherence, -1 to 1.
    #[serde(rename = "correlation")]
    Correlation,
    /// How many.
    #[serde(rename = "count")]
    Count,
    /// How many in a minute.
    #[serde(rename = "per minute")]
    PerMinute,
    /// How many in an hour.
    #[serde(rename = "per hour")]
    PerHour,
    /// Quotient of two like quantities.
    #[serde(rename = "ratio")]
    Ratio,
}

impl Unit {
    /// The symbol behind a number, with its leading space where the trade writes one; empty for pure numbers.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Db => " dB",
            Self::Dbfs => " dBFS",
            Self::Dbtp => " dBTP",
            Self::Lufs => " LUFS",
            Self::Lu => " LU",
            Self::DbPerOctave => " dB/octave",
            Self::DbPerHour => " dB/h",
            Self::Hz => " Hz",
            Self::Seconds => " s",
            Self::Milliseconds => " ms",
            Self::Percent => " %",
            Self::Correlation | Self::Count | Self::Ratio => "",
            Self::PerMinute => " a minute",
            Self::PerHour => " an hour",
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol().trim_start())
    }
}
