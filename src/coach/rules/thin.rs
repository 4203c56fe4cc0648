//! Thin sound: the middle is missing.
//!
//! Looks at the 355-891 Hz band against its neighbours. Never gives a verdict on recordings taken before the EQ.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::{pick, windows};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

/// Speech: body against the mean of its neighbours, in dB (from the spectrum of Byrne et al., JASA 1994).
const SPEECH_DB: f64 = 6.6;
const ROLES: &[Role] = &[
    Role::Speech,
    Role::LeadVocal,
    Role::BackingVocal,
    Role::AcousticGuitar,
    Role::Keys,
    Role::Strings,
];

pub(super) const RULE: Rule = Rule {
    id: "thin",
    title: "Thin sound: the middle is missing",
    group: Group::Tone,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &["voice-masked"],
    measures: "Share of 355-891 Hz minus the mean of its two neighbour bands, compared with the same figure of the role's reference.",
    limbs: &[Limb {
        name: "body against reference",
        unit: Unit::Db,
        windows: &[Window::at_least(
            -6.0,
            -10.0,
            Source::Published(
                "speech reference +6.6 dB computed from Byrne et al., JASA 1994; others from the middles of their windows, common practice",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_own_to_spill_db: Some(10.0), ..Guards::USUAL },
    guard_text: "Outside the window in 60 % of active blocks or more, in two songs or one long talk; own-to-spill of 10 dB or more; before the EQ it is a check for the mentor.",
    absent: "no voice, acoustic guitar, keys or strings were recorded",
    heard: "{who} {is} thin in the middle",
    why: "A scooped middle disappears in the band.",
    advice: &[
        "Halve any cut between 400 Hz and 1 kHz.",
        "Check that the high-pass is not above 150 Hz on a low voice.",
        "Check the polarity of paired microphones.",
        "Move the microphone closer, on axis.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum over the reference, the dip marked.",
    fooled_by: "a cancelled pair, a distant microphone, or a telephone effect on purpose",
    other_causes: "two microphones that cancel, or a distant one",
    question: "What does the EQ of this channel look like?",
    exercise: "Cut 600 Hz by 6 dB on a voice, alone and in the band, and describe both, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::MentorCheck("the EQ"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::as_mixed(reading, ROLES)
        .iter()
        .map(|channel| {
            let level = |band| pick::bands(&channel.spectrum.band_db, &[band]);
            let neighbours =
                pick::join(&level(windows::THICK), &level(windows::NOSE), f64::midpoint);
            let body = pick::minus(&level(windows::BODY), &neighbours);
            let fact =
                reference_db(channel.role).map(|usual_db| pick::map(&body, |db| db - usual_db));
            pick::tone(reading, channel, Some(windows::BODY), vec![fact])
        })
        .collect()
}

fn reference_db(role: Role) -> Option<f64> {
    if role == Role::Speech {
        return Some(SPEECH_DB);
    }
    let middle = |band| windows::middle(role, band);
    Some(middle(windows::BODY)? - f64::midpoint(middle(windows::THICK)?, middle(windows::NOSE)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Tap;
    use crate::unit::Fact;

    /// A talker with the published spectrum (thick -7.3, body -3.2, nose -12.3 dB), the body lowered by so much.
    fn talker(lower_db: f64, share: f64) -> Reading {
        let mut talker = channel(21, Role::Speech);
        for (band, level_db) in
            [(windows::THICK, -7.3), (windows::BODY, -3.2 - lower_db), (windows::NOSE, -12.3)]
        {
            talker.spectrum.band_db[band] = Fact::exact(level_db);
        }
        talker.spectrum.band_out_percent[windows::BODY] = share;
        talker.tap = Tap::Processed;
        session(vec![talker])
    }

    #[test]
    fn fires_when_the_body_is_scooped_out() {
        assert_eq!(only(&RULE, &talker(7.0, 90.0)), Near, "7 dB under the reference");
        assert_eq!(only(&RULE, &talker(11.0, 90.0)), Outside, "11 dB under the reference");
    }

    #[test]
    fn stays_quiet_near_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &talker(5.9, 90.0)), OnTarget, "6 dB is the border");
    }

    #[test]
    fn is_not_fooled_by_a_short_telephone_effect() {
        assert!(matches!(only(&RULE, &talker(11.0, 20.0)), NotJudged(_)), "in a few blocks only");
    }
}
