//! A measured fact: a value, a bound or a range with its confidence, or the reason why there is none.

use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// What is known of a quantity, and how well.
///
/// Confidence is the share of such values that lie within the stated tolerance, 0 to 1. The unit stands in the
/// key that holds the fact.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Fact {
    /// A value.
    Value {
        /// The value.
        value: f64,
        /// Confidence, 0 to 1.
        confidence: f64,
    },
    /// An upper bound.
    AtMost {
        /// The bound.
        at_most: f64,
        /// Confidence, 0 to 1.
        confidence: f64,
    },
    /// A lower bound.
    AtLeast {
        /// The bound.
        at_least: f64,
        /// Confidence, 0 to 1.
        confidence: f64,
    },
    /// A range.
    Range {
        /// Low end.
        low: f64,
        /// High end.
        high: f64,
        /// Confidence, 0 to 1.
        confidence: f64,
    },
    /// No value.
    Missing {
        /// Why there is none.
        not_measurable: Unmeasured,
    },
}

impl Fact {
    /// A value that is known as well as the arithmetic: confidence 1.
    pub fn exact(value: f64) -> Self {
        Self::sure(value, 1.0)
    }

    /// A value with its confidence.
    ///
    /// # Panics
    ///
    /// If the value is not finite or the confidence lies outside 0 to 1: a missing value is [`Fact::missing`].
    pub fn sure(value: f64, confidence: f64) -> Self {
        assert!(value.is_finite(), "a fact is finite, found {value}");
        assert!((0.0..=1.0).contains(&confidence), "confidence lies in 0..1, found {confidence}");
        Self::Value { value, confidence }
    }

    /// No value, and why.
    pub const fn missing(not_measurable: Unmeasured) -> Self {
        Self::Missing { not_measurable }
    }

    /// A value with its confidence, or the reason why there is none.
    pub fn from_result(result: Result<f64, Unmeasured>, confidence: f64) -> Self {
        result.map_or_else(Self::missing, |value| Self::sure(value, confidence))
    }

    /// The value, if it is one and not a bound or a range.
    pub fn value(&self) -> Option<f64> {
        match self {
            Self::Value { value, .. } => Some(*value),
            _ => None,
        }
    }

    /// Low and high end of what it allows; a bound is open on its other side. `None` where there is no value.
    pub fn ends(&self) -> Option<[f64; 2]> {
        match *self {
            Self::Value { value, .. } => Some([value, value]),
            Self::AtMost { at_most, .. } => Some([f64::NEG_INFINITY, at_most]),
            Self::AtLeast { at_least, .. } => Some([at_least, f64::INFINITY]),
            Self::Range { low, high, .. } => Some([low, high]),
            Self::Missing { .. } => None,
        }
    }

    /// The reason why there is no value.
    pub fn reason(&self) -> Option<&Unmeasured> {
        match self {
            Self::Missing { not_measurable } => Some(not_measurable),
            _ => None,
        }
    }

    /// Confidence, 0 to 1; 0 where there is no value.
    pub fn confidence(&self) -> f64 {
        match self {
            Self::Value { confidence, .. }
            | Self::AtMost { confidence, .. }
            | Self::AtLeast { confidence, .. }
            | Self::Range { confidence, .. } => *confidence,
            Self::Missing { .. } => 0.0,
        }
    }
}

/// Why a value can't be had, in plain words.
#[derive(Clone, Debug, PartialEq)]
pub enum Unmeasured {
    /// No sample differs from zero.
    Silent,
    /// The channel's own source was not heard.
    NeverActive,
    /// The channel's own source was heard for less time than the measure needs.
    TooLittleActive {
        /// Heard, in seconds.
        have_s: f64,
        /// Needed, in seconds.
        need_s: f64,
    },
    /// The recording is shorter than the measure needs.
    TooShort {
        /// Length, in seconds.
        have_s: f64,
        /// Needed, in seconds.
        need_s: f64,
    },
    /// There is no stretch in which every channel is quiet.
    NoQuietStretch,
    /// Fewer events than the measure needs.
    TooFewEvents {
        /// Found.
        have: usize,
        /// Needed.
        need: usize,
    },
    /// Something the measure needs was not recorded or not declared.
    NotRecorded(&'static str),
    /// Any other reason, as a clause without full stop.
    Because(&'static str),
    /// A reason as a stored review tells it, as a clause without full stop.
    Told(String),
}

impl Unmeasured {
    /// A level re a microphone's own source, where it has none.
    pub const NO_OWN_SOURCE: Self = Self::Because("no source of its own was heard there");

    /// The reason without what differs from channel to channel, so that like reasons can stand together.
    pub fn in_general(&self) -> String {
        match self {
            Self::TooLittleActive { need_s, .. } => {
                format!("too little was heard of it ({need_s:.0} s are needed)")
            }
            Self::TooFewEvents { need, .. } => format!("it happened fewer than {need} times"),
            Self::TooShort { need_s, .. } => {
                format!("the recording is too short ({need_s:.0} s are needed)")
            }
            other => other.to_string(),
        }
    }
}

impl fmt::Display for Unmeasured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Silent => f.write_str("the channel is silent"),
            Self::NeverActive => f.write_str(
                "the channel's own source could not be told from spill, or was not heard",
            ),
            Self::TooLittleActive { have_s, need_s } => {
                write!(
                    f,
                    "the channel's own source was heard for {have_s:.0} s, {need_s:.0} s are needed"
                )
            }
            Self::TooShort { have_s, need_s } => {
                write!(f, "the recording lasts {have_s:.1} s, {need_s:.1} s are needed")
            }
            Self::NoQuietStretch => {
                f.write_str("there is no stretch in which every channel is quiet")
            }
            Self::TooFewEvents { have, need } => {
                let were = if *have == 1 { "event was" } else { "events were" };
                write!(f, "{have} {were} found, {need} are needed")
            }
            Self::NotRecorded(what) => write!(f, "{what} was not recorded"),
            Self::Because(reason) => f.write_str(reason),
            Self::Told(reason) => f.write_str(reason),
        }
    }
}

impl Serialize for Unmeasured {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Unmeasured {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(Self::Told)
    }
}

impl JsonSchema for Unmeasured {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Unmeasured".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "string", "description": "Why there is no value, in plain words." })
    }
}
