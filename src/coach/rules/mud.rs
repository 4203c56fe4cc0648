//! Thick low mids.
//!
//! Looks at the 224-355 Hz band against the role's window. Never blames a channel where most channels show the same.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::{pick, windows};
use crate::reading::{Channel, Reading};
use crate::session::{Family, Role};
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "windows of roles: voices after Byrne et al., JASA 1994; rest common practice",
);
const ROLES: &[Role] = &[
    Role::Speech,
    Role::LeadVocal,
    Role::BackingVocal,
    Role::Choir,
    Role::AcousticGuitar,
    Role::ElectricGuitar,
    Role::Keys,
    Role::Tom,
];

pub(super) const RULE: Rule = Rule {
    id: "mud",
    title: "Thick low mids",
    group: Group::Tone,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &["voice-masked"],
    measures: "Share of 224-355 Hz above the role's window; voices also need 112-355 Hz more than 13 dB over 891-3548 Hz.",
    limbs: &[
        Limb {
            name: "low mids over window",
            unit: Unit::Db,
            windows: &[Window::at_most(0.0, 4.0, SOURCE)],
        },
        Limb {
            name: "low end over upper middle",
            unit: Unit::Db,
            windows: &[Window::at_most(13.0, 18.0, SOURCE)],
        },
    ],
    combine: Combine::All,
    needs: &[],
    guards: Guards { min_own_to_spill_db: Some(10.0), ..Guards::USUAL },
    guard_text: "Outside the window in 60 % of active blocks or more, in two songs or one long talk; own-to-spill of 10 dB or more; before the EQ it is a check for the mentor. Silent where half of the channels or more show it.",
    absent: "no voice, guitar, keys or tom was recorded",
    heard: "{who} {is} thick in the low mids",
    why: "It lies like a blanket over the words.",
    advice: &[
        "Keep more distance from the microphone.",
        "Lower wedges and amplifier.",
        "Ask for the part an octave up, or fewer notes in the left hand.",
        "Move the high-pass up a little.",
        "Cut 2-4 dB broadly around 250-350 Hz after that.",
    ],
    backing: &[Source::CommonPractice, SOURCE],
    shows: "Ten rungs from floor to air with a bracket for the window and one mark for tonight.",
    fooled_by: "a key or arrangement that sits there, or a boomy hall",
    other_causes: "a close microphone, a wedge that leaks, a boomy hall",
    question: "Is it heard on this channel alone, or only in the mix?",
    exercise: "Cut and boost 300 Hz by 6 dB on three channels and describe each, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::MentorCheck("the EQ"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let over = |channel: &Channel| pick::over_window(channel, windows::THICK);
    let all = pick::as_mixed(reading, ROLES);
    let n_over =
        all.iter().filter(|channel| over(channel).value().is_some_and(|db| db > 0.0)).count();
    // Where most channels show it, hall or microphones are the cause and no channel is.
    let is_everywhere = all.len() > 2 && n_over * 2 >= all.len();
    all.iter()
        .map(|channel| {
            let bands = &channel.spectrum.band_db;
            let boom = (channel.role.family() == Family::Voice).then(|| {
                let low = pick::bands(bands, &[windows::WARMTH, windows::THICK]);
                pick::minus(&low, &pick::bands(bands, &[windows::NOSE, windows::PRESENCE]))
            });
            pick::tone(reading, channel, Some(windows::THICK), vec![Some(over(channel)), boom])
                .doubted(is_everywhere, "most channels show it, so hall or microphones come first")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Tap;
    use crate::unit::Fact;

    fn keys(over_db: f64, share: f64) -> Channel {
        let mut keys = channel(13, Role::Keys);
        let high = windows::window(Role::Keys, windows::THICK).1.expect("keys have a window here");
        keys.spectrum.band_db[windows::THICK] = Fact::exact(high + over_db);
        keys.spectrum.band_out_percent[windows::THICK] = share;
        keys.tap = Tap::Processed;
        keys
    }

    #[test]
    fn fires_when_the_band_stands_over_its_window() {
        assert_eq!(only(&RULE, &session(vec![keys(3.0, 60.0)])), Near, "3 dB over");
        assert_eq!(only(&RULE, &session(vec![keys(5.0, 60.0)])), Outside, "5 dB over");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_window() {
        assert_eq!(only(&RULE, &session(vec![keys(0.0, 60.0)])), OnTarget, "the end is inside");
    }

    #[test]
    fn is_not_fooled_by_a_passage_or_a_hall() {
        assert!(
            matches!(only(&RULE, &session(vec![keys(5.0, 59.0)])), NotJudged(_)),
            "now and then"
        );
        let hall = vec![keys(5.0, 80.0), keys(5.0, 80.0), keys(-3.0, 0.0)];
        assert!(matches!(only(&RULE, &session(hall)), NotJudged(_)), "most channels show it");
    }

    #[test]
    fn is_not_fooled_by_a_voice_with_a_clear_upper_middle() {
        let mut voice = channel(17, Role::LeadVocal);
        voice.spectrum.band_db[windows::THICK] = Fact::exact(0.0);
        voice.spectrum.band_db[windows::PRESENCE] = Fact::exact(-7.0);
        voice.spectrum.band_out_percent[windows::THICK] = 90.0;
        assert_eq!(only(&RULE, &session(vec![voice])), OnTarget, "voices need both numbers");
    }
}
