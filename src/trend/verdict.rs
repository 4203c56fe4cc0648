//! The words for a habit over months. No grade, no rank, and nothing where there is too little to go by.

/// From so many sessions on more is shown than dots: four values in perfect order come about by chance once in twelve.
pub const SHOWN_FROM: usize = 4;
/// From so many sessions on a trend is looked for.
pub const TESTED_FROM: usize = 6;
/// A change counts if chance alone does as much less often than this, all rules taken together.
const LEVEL: f64 = 0.05;

/// What a habit does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Fewer than four sessions.
    TooEarly,
    /// Nothing that chance would not do as well.
    NoClearChange,
    /// It happens less often from session to session.
    Steadier,
    /// It happens more often.
    MoreOften,
}

impl Verdict {
    /// The verdict on a row of sessions: `s` is Kendall's, `p` its probability held to all that were looked at together.
    pub fn of(n_sessions: usize, s: i64, p: f64) -> Self {
        if n_sessions < SHOWN_FROM {
            Self::TooEarly
        } else if n_sessions < TESTED_FROM || p >= LEVEL {
            Self::NoClearChange
        } else if s < 0 {
            Self::Steadier
        } else {
            Self::MoreOften
        }
    }

    /// The words that pages print.
    pub const fn words(self) -> &'static str {
        match self {
            Self::TooEarly => "too early to say",
            Self::NoClearChange => "no clear change yet",
            Self::Steadier => "steadier",
            Self::MoreOften => "more often than before",
        }
    }
}
