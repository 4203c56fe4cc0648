//! Hard edge on loud notes.
//!
//! Looks at the edge of loud phrases of singers. Never speaks to the trainee: the singer's own earlier recordings are not at hand.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "speech reference -12.8 dB (computed from Byrne et al., JASA 1994); borders common practice",
);

pub(super) const RULE: Rule = Rule {
    id: "harsh",
    title: "Hard edge on loud notes",
    group: Group::Tone,
    tier: Tier::B,
    effect: 2,
    ease: 2,
    explains: &[],
    measures: "Level in 1778-5623 Hz minus level in 355-891 Hz in the loudest quarter of phrases, and how much it grows against the quiet half.",
    limbs: &[
        Limb {
            name: "edge on loud phrases",
            unit: Unit::Db,
            windows: &[Window::at_most(-6.0, -2.0, SOURCE)],
        },
        Limb {
            name: "growth of the edge",
            unit: Unit::Db,
            windows: &[Window::at_most(6.0, 10.0, SOURCE)],
        },
    ],
    combine: Combine::All,
    needs: &[],
    guards: Guards { min_own_to_spill_db: Some(10.0), ..Guards::USUAL },
    guard_text: "Two songs or one long talk; own-to-spill of 10 dB or more; both numbers over their borders; for the mentor.",
    absent: "no singer was recorded",
    heard: "{who} {is} hard on loud notes",
    why: "The ear tires here first.",
    advice: &[
        "Ask the singer for more distance on loud notes.",
        "Lower the level of that source.",
        "Cut 2-3 dB narrowly where it is worst, or use a dynamic cut.",
    ],
    backing: &[Source::CommonPractice, SOURCE],
    shows: "Spectra of loud and quiet phrases.",
    fooled_by: "a bright voice, or cymbal spill in the microphone",
    other_causes: "a bright voice, a loud cymbal near the microphone, a presence boost",
    question: "Is it the voice, the distance, or the EQ?",
    exercise: "Sing one loud line at two distances and compare the edge, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::MentorCheck("the EQ"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::as_mixed(reading, pick::SINGERS)
        .iter()
        .map(|singer| {
            let spectrum = &singer.spectrum;
            let facts =
                vec![Some(spectrum.edge_loud_db.clone()), Some(spectrum.edge_growth_db.clone())];
            pick::tone(reading, singer, None, facts)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::{Role, Tap};
    use crate::unit::Fact;

    fn singer(edge_db: f64, growth_db: f64) -> Reading {
        let mut singer = channel(17, Role::LeadVocal);
        singer.spectrum.edge_loud_db = Fact::exact(edge_db);
        singer.spectrum.edge_growth_db = Fact::exact(growth_db);
        singer.tap = Tap::Processed;
        session(vec![singer])
    }

    #[test]
    fn fires_when_loud_phrases_are_hard_and_get_harder() {
        assert_eq!(only(&RULE, &singer(-5.0, 7.0)), Near, "over -6 and over 6");
        assert_eq!(only(&RULE, &singer(-1.0, 11.0)), Outside, "over -2 and over 10");
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(only(&RULE, &singer(-6.0, 6.0)), OnTarget, "both ends are inside");
    }

    #[test]
    fn is_not_fooled_by_a_bright_voice() {
        assert_eq!(only(&RULE, &singer(-1.0, 2.0)), OnTarget, "bright at every level");
    }
}
