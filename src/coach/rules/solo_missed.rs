//! Solo or lead line not lifted.
//!
//! Looks at passages without voices in which one instrument carries the melody. Tells the trainee only of those on the cue sheet.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "solo-missed",
    title: "Solo or lead line not lifted",
    group: Group::Balance,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Loudness of the instrument in the mix minus the rest, K-weighted, 3 s, in passages of 8 s or more without voices, and its gain there minus its gain in the rest of the song, where it plays in both.",
    limbs: &[
        Limb {
            name: "solo against the rest",
            unit: Unit::Lu,
            windows: &[Window::at_least(-3.0, -8.0, Source::CommonPractice)],
        },
        Limb {
            name: "lift",
            unit: Unit::Db,
            windows: &[Window::at_least(2.0, 1.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::All,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 8.0, ..Guards::USUAL },
    guard_text: "8 s of the passage; without a cue only where one instrument plays that rests while voices sing, and for the mentor.",
    absent: "the mix could not be read back, or no passage without voices was found",
    heard: "{who} {is} not lifted in the solo",
    why: "The solo stays under the band.",
    advice: &[
        "Write the solo on the song list, and have a finger on the fader two bars before.",
        "Lift by 3 to 6 dB, and bring it back at the next line of words.",
        "Let the player use a volume or boost pedal that was agreed at the sound check.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The passage, and the fader of that channel.",
    fooled_by: "a groove without a solo, and two players who share one",
    other_causes: "a melody that comes from playback",
    question: "Who has the tune in this passage?",
    exercise: "Lift each solo of one song by 4 dB and bring it back, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::solos(reading, LIFT_DB, |solo| {
        // What plays nowhere else in the song has nothing that it could be lifted from: its level tells.
        let lift = solo.lift_db.value().map(|_| solo.lift_db.clone());
        vec![Some(solo.over_rest_lu.clone()), lift]
    })
}

/// A solo is lifted by 3 to 6 dB (common practice).
const LIFT_DB: f64 = 4.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{judged, only, solo};
    use crate::unit::{Fact, Unmeasured};

    #[test]
    fn fires_when_a_solo_stays_under_the_band() {
        assert_eq!(only(&RULE, &solo(-6.0, 1.5, true)), Near, "below -3 and lifted by less than 2");
        assert_eq!(
            only(&RULE, &solo(-9.5, 0.1, true)),
            Outside,
            "below -8 and lifted by less than 1"
        );
    }

    #[test]
    fn stays_quiet_where_it_stands_out_or_was_lifted() {
        assert_eq!(only(&RULE, &solo(-3.0, 0.0, true)), OnTarget, "-3 is inside");
        assert_eq!(only(&RULE, &solo(-9.0, 2.0, true)), OnTarget, "it was lifted");
    }

    #[test]
    fn fires_by_its_level_where_the_instrument_plays_nowhere_else() {
        let mut reading = solo(-9.5, 0.0, true);
        let mix = reading.mix.as_mut().expect("there is a mix");
        mix.songs[0].solos[0].lift_db =
            Fact::missing(Unmeasured::Because("it plays nowhere else in the song"));
        assert_eq!(only(&RULE, &reading), Outside);
    }

    #[test]
    fn is_not_fooled_by_a_groove() {
        let judgement = &judged(&RULE, &solo(-9.5, 0.1, false))[0];
        assert_eq!(
            judgement.observation.page,
            Some(Page::Mentor),
            "without a cue it is a question"
        );
    }
}
