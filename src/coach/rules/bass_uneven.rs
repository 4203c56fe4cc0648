//! Bass notes jump in level.
//!
//! Looks at the levels of single bass notes on a DI. Never judges a bass microphone, which hears the hall as well.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::Role;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "bass-uneven",
    title: "Bass notes jump in level",
    group: Group::Dynamics,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "90th minus 10th percentile of the levels of notes, from onset to 200 ms.",
    limbs: &[Limb {
        name: "note spread",
        unit: Unit::Db,
        windows: &[Window::at_most(6.0, 10.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of bass on a DI.",
    absent: "no bass DI was recorded",
    heard: "{who} {is} uneven from note to note",
    why: "One booming note rules the hall while others vanish.",
    advice: &[
        "Ask for an even touch, and set an active EQ flat.",
        "Set a compressor to 3-4:1 with 3-6 dB on loud notes.",
        "Cut the booming note narrowly in the hall EQ if the room is the cause.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Chart of note levels.",
    fooled_by: "slap and muted styles, or octave jumps",
    other_causes: "string height, a worn string, or slap on purpose",
    question: "Which note jumps out, and does the hall do it as well?",
    exercise: "Compress one bass line until no note jumps, and read the gain reduction, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let basses = reading.with_role(&[Role::Bass]).filter(|bass| bass.is_line);
    basses
        .map(|bass| Observation {
            detail: start(bass).map(Into::into),
            ..pick::raw_by_role(bass, vec![Some(bass.note_spread_db.clone())])
        })
        .collect()
}

/// Where to begin.
fn start(bass: &Channel) -> Option<String> {
    let start = bass.starts.compressor_starts.last()?;
    let threshold_dbfs = start.threshold_dbfs.value()?;
    Some(format!(
        "At {:.0}:1 a threshold of about {threshold_dbfs:.0} dBFS, before other processing, would take 3 to 6 dB off loud notes: a place to start from.",
        start.ratio
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::unit::Fact;

    fn bass(spread_db: f64) -> Reading {
        let mut bass = channel(10, Role::Bass);
        bass.note_spread_db = Fact::exact(spread_db);
        session(vec![bass])
    }

    #[test]
    fn fires_when_notes_jump() {
        assert_eq!(only(&RULE, &bass(6.5)), Near, "over 6");
        assert_eq!(only(&RULE, &bass(10.5)), Outside, "over 10");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &bass(6.0)), OnTarget, "6 is inside");
    }

    #[test]
    fn is_not_fooled_by_the_hall_in_a_bass_microphone() {
        let mut reading = bass(12.0);
        reading.channels[0].is_line = false;
        assert!(judged(&RULE, &reading).is_empty(), "the microphone hears the hall");
    }
}
