//! Choir microphone hears more band than choir.
//!
//! Looks at own-to-spill of choir microphones. Never judges a choir that could not be told from the band.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::spill;
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "choir-spill",
    title: "Choir mic hears more band than choir",
    group: Group::Microphone,
    tier: Tier::B,
    effect: 3,
    ease: 3,
    explains: &[],
    measures: "Median level while the choir sings minus the median level while it does not and the band plays.",
    limbs: &[Limb {
        name: "own-to-spill",
        unit: Unit::Db,
        windows: &[Window::at_least(6.0, 0.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: spill::GUARDS,
    guard_text: "20 s of the choir and of its pauses with the band; when the choir sings has to be known by more than the level.",
    absent: "no choir was recorded",
    heard: "{who} {is} full of the band",
    why: "Raised choir microphones bring the drums, not the choir.",
    advice: &[
        "Move the choir away from drums and wedges; ask for softer playing there.",
        "Put the microphone half a metre to a metre before and above the first row, aimed at the last.",
        "Take fewer choir microphones, each for one block of up to 15 to 20 singers.",
        "Keep the choir out of wedges close by, and switch the high-pass on at 120-150 Hz.",
        "Lift the choir in quiet parts only, and let it sound by itself in loud ones.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Level trace with choir and no choir shaded.",
    fooled_by: "a choir that hums or rests where it was taken to sing, or a congregation that joins in",
    other_causes: "a small choir, a loud band, or microphones that point over the heads",
    question: "What is left in these microphones when the choir rests?",
    exercise: "Listen to one choir microphone alone through a whole song and name what is loudest, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    reading
        .with_role(&[Role::Choir])
        .filter(|choir| !choir.is_line)
        .map(|choir| Observation {
            detail: spill::loudest_named(reading, choir),
            ..pick::raw_by_role(choir, vec![Some(choir.own_to_spill_db.clone())])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session, spilled};
    use crate::unit::Fact;

    fn choir(own_to_spill_db: f64, confidence: f64) -> Reading {
        let mut choir = channel(20, Role::Choir);
        choir.own_to_spill_db = Fact::sure(own_to_spill_db, confidence);
        session(vec![choir])
    }

    #[test]
    fn fires_when_the_band_is_nearly_as_loud_as_the_choir() {
        assert_eq!(only(&RULE, &choir(5.9, 0.9)), Near, "under 6");
        assert_eq!(only(&RULE, &choir(-0.1, 0.9)), Outside, "the band is louder");
    }

    #[test]
    fn fires_and_names_the_loudest_neighbour() {
        let mut reading = choir(3.0, 0.9);
        let (kick, keys) = (channel(1, Role::Kick), channel(13, Role::Keys));
        reading.pairs = vec![
            spilled(&kick, &reading.channels[0], -4.0),
            spilled(&keys, &reading.channels[0], -9.0),
        ];
        reading.channels.extend([kick, keys]);
        let detail = |reading: &Reading| judged(&RULE, reading)[0].observation.detail.clone();
        let named = detail(&reading);
        assert_eq!(named.as_deref(), Some("Loudest neighbour: kick 1."));
        reading.pairs[1].bleed_db = Fact::AtMost { at_most: -3.0, confidence: 0.9 };
        assert_eq!(detail(&reading), None, "the keys may be louder");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &choir(6.0, 0.9)), OnTarget, "6 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_choir_that_may_only_hum() {
        let outcome = only(&RULE, &choir(1.0, 0.6));
        assert!(matches!(outcome, NotJudged(_)), "when it sings is not sure");
    }
}
