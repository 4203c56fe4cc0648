//! Rules whose names are kept for later: what each needs before it can be judged.
//!
//! A review lists them as not judged. A rule that gets its own file leaves this table.

use super::rule::{Group, Tier};

/// A rule that is not judged yet.
#[derive(Clone, Copy, Debug)]
pub struct Reserved {
    /// Stable name in kebab case.
    pub id: &'static str,
    /// The fault in a few words, without full stop.
    pub title: &'static str,
    /// Where it stands in the order of fixing.
    pub group: Group,
    /// How far it is to be trusted.
    pub tier: Tier,
    /// What has to be there before it can be judged, as a clause.
    pub needs: &'static str,
}

/// The rules that are not judged yet, in the order of fixing.
pub const RESERVED: &[Reserved] = &[reserved(
    "tone-ring",
    "One note sticks out or rings",
    Group::Tone,
    Tier::B,
    "a body that rings has to be told from the notes that all songs share",
)];

const fn reserved(
    id: &'static str,
    title: &'static str,
    group: Group,
    tier: Tier,
    needs: &'static str,
) -> Reserved {
    Reserved { id, title, group, tier, needs }
}
