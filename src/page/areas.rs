//! Where a finding belongs: to the desk, the band, the gear or the hall.

use crate::coach::{Group, Note};

/// Who or what a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Area {
    /// What hands at the desk can change.
    Desk,
    /// What players, singers and talkers can change.
    Band,
    /// What has to be repaired or plugged otherwise.
    Gear,
    /// What the hall does.
    Hall,
}

impl Area {
    pub(super) const ALL: [Self; 4] = [Self::Desk, Self::Band, Self::Gear, Self::Hall];

    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Desk => "Desk",
            Self::Band => "Band",
            Self::Gear => "Gear",
            Self::Hall => "Hall",
        }
    }

    /// The area of a note: by its rule where that is plain, else by its group.
    pub(super) fn of(note: &Note) -> Self {
        match (note.rule.id, note.group) {
            (id, _) if id.starts_with("room-") => Self::Hall,
            (
                "mic-wander" | "mic-offaxis" | "pop-blasts" | "mic-far" | "close-boom"
                | "bass-uneven",
                _,
            )
            | (_, Group::Source) => Self::Band,
            (_, Group::Recording) => Self::Gear,
            _ => Self::Desk,
        }
    }
}
