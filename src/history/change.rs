//! What changed between two nights, so that counts before and after don't compare.

use std::collections::BTreeSet;

use super::read::Night;

/// Share of the inputs of both nights that has to be common to both: with less it is another line-up (common practice).
const LINE_UP_SHARE: f64 = 0.5;

/// What changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// The place.
    Hall,
    /// Most of the inputs.
    LineUp,
    /// Where on the desk was recorded.
    Tap,
    /// The rule or its targets.
    Rule,
}

impl Change {
    /// The change in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hall => "another hall",
            Self::LineUp => "another line-up",
            Self::Tap => "recorded at another place of the desk",
            Self::Rule => "the rule or its targets changed",
        }
    }
}

/// What changed between two nights, whatever the rule.
pub(super) fn between(before: &Night, after: &Night) -> Vec<Change> {
    let place = |night: &Night| night.record.place.as_deref().map(str::trim).map(str::to_lowercase);
    let is_moved = place(before).zip(place(after)).is_some_and(|(before, after)| before != after);
    let hall = is_moved.then_some(Change::Hall);
    let line_up = (!is_similar(before, after)).then_some(Change::LineUp);
    hall.into_iter().chain(line_up).collect()
}

/// Whether half or more of the inputs of both nights are common to both.
fn is_similar(before: &Night, after: &Night) -> bool {
    let inputs = |night: &Night| -> BTreeSet<String> {
        night.record.inputs.iter().map(|name| name.trim().to_lowercase()).collect()
    };
    let (before, after) = (inputs(before), inputs(after));
    if before.is_empty() || after.is_empty() {
        return true;
    }
    let n_common = before.intersection(&after).count();
    let n_all = before.union(&after).count();
    #[expect(clippy::cast_precision_loss, reason = "a desk has few channels")]
    {
        n_common as f64 >= LINE_UP_SHARE * n_all as f64
    }
}
