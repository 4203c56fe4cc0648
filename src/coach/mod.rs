//! What the numbers mean: rules with their targets, texts and guards, and the choice of a few notes.
//!
//! Takes a [`crate::reading::Reading`] and the team's own targets, gives an [`Advice`]. Never measures anything.
//! A new rule is a new file in `rules` and one line in its register.

mod advice;
mod aims;
mod audition;
mod chance;
mod choice;
mod fold;
mod judge;
mod marks;
mod note;
mod parted;
mod past;
mod pick;
mod reserved;
mod review;
mod rule;
mod rules;
mod sheet;
mod silence;
mod spill;
mod stored;
mod strength;
mod windows;
mod wording;

#[cfg(test)]
mod example;

pub use advice::{Advice, Focus, Folded, Held, Hidden, NotJudged, Note, SafetyLine, Strength};
pub use aims::{Aims, AimsError};
pub use audition::{Audition, Change, Excerpt, audition};
pub use chance::Chances;
pub use judge::{Judgement, Measured, Outcome, Severity, Target};
pub use marks::{Mark, Marks, MarksError, Verdict, called, label};
pub use parted::Parted;
pub use past::{Past, PastNight, Recurred, Seen};
pub use reserved::{RESERVED, Reserved};
pub use review::{NoteLimit, Options, coach, is_starter, rule};
pub use rule::{
    Combine, Ends, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier,
    Window,
};
pub use rules::RULES;
pub use sheet::{LineCard, Prepared, Sheet, SheetError, Step, Strip, Wanted, line_card};
pub use stored::{Judged, Stored};
pub use windows::{BANDS, window};
pub use wording::sure;
