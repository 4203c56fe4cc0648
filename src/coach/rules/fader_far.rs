//! Fader far from its working area.
//!
//! Looks at the gain of a channel into the mix against that of the others. Never speaks of it unless the gain at the input is off as well.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Fact;
use crate::unit::Unit;

/// Soft or loud on purpose.
const LEFT_OUT: &[Role] = &[
    Role::Overhead,
    Role::HiHat,
    Role::FxReturn,
    Role::Click,
    Role::Timecode,
    Role::Talkback,
    Role::Playback,
];
/// Loud level at the input beyond which the gain is off, in dBFS (common practice).
const GAIN_FITS_DBFS: [f64; 2] = [-24.0, -12.0];

pub(super) const RULE: Rule = Rule {
    id: "fader-far",
    title: "Fader far from its working area",
    group: Group::Gain,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Gain of the channel into the main mix re its own recording, minus the median over all channels.",
    limbs: &[Limb {
        name: "gain against the others",
        unit: Unit::Db,
        windows: &[Window::between([-12.0, 6.0], [-20.0, 10.0], Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "20 s of the source; only where the level at the input is off as well; cymbals, effects and playback are left out.",
    absent: "the mix could not be read back",
    heard: "{who} {is} far from where faders work well",
    why: "Low faders move in coarse steps.",
    advice: &[
        "Set the fader near -5 dB, then raise the gain to fit.",
        "Use the group or the main fader for the level of all.",
    ],
    backing: &[Source::CommonPractice],
    shows: "A bar for each channel, with the working area.",
    fooled_by: "a source that is loud in the hall by itself",
    other_causes: "a quiet choir, or a source that plays softly on purpose",
    question: "Where does this fader stand when it sounds right?",
    exercise: "Set the gain of three channels so that they sound right with the fader near -5 dB, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::lines(reading)
        .filter(|(channel, _)| channel.role.is_input() && !LEFT_OUT.contains(&channel.role))
        .map(|(channel, in_mix)| {
            let [low_dbfs, high_dbfs] = GAIN_FITS_DBFS;
            let fits = match &channel.loud_level_dbfs {
                Fact::Value { value, .. } => (low_dbfs..=high_dbfs).contains(value),
                _ => true,
            };
            let facts = vec![Some(in_mix.gain_re_others_db.clone())];
            pick::through_songs(reading, channel, facts)
                .doubted(fits, "the level at the input fits: it may be so on purpose")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};

    fn far(role: Role, loud_dbfs: f64, gain_db: f64) -> Reading {
        let mut input = channel(5, role);
        input.loud_level_dbfs = Fact::exact(loud_dbfs);
        let mut reading = mixed(vec![input]);
        reading.mix.as_mut().expect("it was mixed").channels[0].gain_re_others_db =
            Fact::sure(gain_db, 0.85);
        reading
    }

    #[test]
    fn fires_when_gain_and_fader_are_off() {
        assert_eq!(only(&RULE, &far(Role::Keys, -6.0, -15.0)), Near, "below -12");
        assert_eq!(only(&RULE, &far(Role::LeadVocal, -38.0, 16.0)), Outside, "over 10");
    }

    #[test]
    fn stays_quiet_in_the_working_area() {
        assert_eq!(only(&RULE, &far(Role::Keys, -6.0, -12.0)), OnTarget, "-12 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_soft_part() {
        assert!(matches!(only(&RULE, &far(Role::Choir, -18.0, -25.0)), NotJudged(_)), "on purpose");
        assert!(judged(&RULE, &far(Role::Overhead, -6.0, -25.0)).is_empty(), "cymbals are loud");
    }
}
