//! Rumble under a source that has no low notes.
//!
//! Looks at energy far below the corner of each role's high-pass. Never gives a verdict before the filter, and no hint at all for overheads, hi-hat and low winds.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::{Role, Tap};
use crate::unit::Unit;

const ROLES: &[Role] = &[
    Role::Speech,
    Role::LeadVocal,
    Role::BackingVocal,
    Role::Choir,
    Role::AcousticGuitar,
    Role::ElectricGuitar,
    Role::HiHat,
    Role::Overhead,
    Role::Strings,
    Role::Brass,
    Role::Woodwind,
];
/// Parts of names of winds that play low notes.
const LOW_WINDS: &[&str] = &["tuba", "euph", "bone", "tbn", "trb", "posaune", "bari", "ten", "sax"];

pub(super) const RULE: Rule = Rule {
    id: "hpf-missing",
    title: "Rumble under a source that has no low notes",
    group: Group::Tone,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &["low-pile", "mud"],
    measures: "Energy below 0.7 x the corner of the role's high-pass, relative to the channel's total, active frames.",
    limbs: &[Limb {
        name: "rumble",
        unit: Unit::Db,
        windows: &[Window::at_most(
            -25.0,
            -15.0,
            Source::Computed(
                "speech has about -31 dB below 71 Hz (from Byrne et al., JASA 1994); corners common practice",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 20.0, min_own_to_spill_db: Some(10.0), ..Guards::USUAL },
    guard_text: "20 s of active time; own-to-spill of 10 dB or more, so that kick and bass are not counted; before the filter it counts as it reaches the mix, and is a check for the mentor where the mix does not tell; low winds are left out.",
    absent: "no source without low notes was recorded",
    heard: "{who} {is} rumbling below the music",
    why: "Rumble eats headroom and blurs the low end.",
    advice: &[
        "Check that the high-pass is on, for voices at 80-120 Hz.",
        "Raise it until the source gets thin, then back a little.",
        "Find the source of the rumble: stand on the stage floor, fan, bass amplifier.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum of the low end with the corner marked, and the seconds with most rumble.",
    fooled_by: "recordings taken before the filter, and spill of kick and bass",
    other_causes: "a stand on a hollow stage, a fan, traffic",
    question: "Is the high-pass of this channel on, and at which frequency?",
    exercise: "Sweep the high-pass up on five channels until each gets thin, then back a little, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::MentorCheck("the high-pass"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::as_mixed(reading, ROLES)
        .iter()
        .filter(|input| {
            let tap = reading.channel(&input.id).map(|channel| channel.tap);
            !(tap == Some(Tap::Raw) && matches!(input.role, Role::HiHat | Role::Overhead))
        })
        .map(|input| {
            let name = input.name.to_lowercase();
            let is_low_wind = matches!(input.role, Role::Brass | Role::Woodwind)
                && LOW_WINDS.iter().any(|word| name.contains(word));
            pick::by_role(input, vec![Some(input.spectrum.below_corner_db.clone())])
                .doubted(is_low_wind, "a low wind instrument has low notes of its own")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only, session};
    use crate::unit::Fact;

    fn rumbling(role: Role, tap: Tap, rumble_db: f64) -> Reading {
        let mut input = channel(1, role);
        input.tap = tap;
        input.spectrum.below_corner_db = Fact::exact(rumble_db);
        session(vec![input])
    }

    #[test]
    fn fires_when_rumble_reaches_a_processed_track() {
        assert_eq!(only(&RULE, &rumbling(Role::Speech, Tap::Processed, -24.0)), Near, "over -25");
        assert_eq!(
            only(&RULE, &rumbling(Role::Speech, Tap::Processed, -10.0)),
            Outside,
            "over -15"
        );
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &rumbling(Role::Speech, Tap::Processed, -25.0)), OnTarget, "inside");
    }

    #[test]
    fn is_not_fooled_by_a_recording_before_the_filter() {
        let judgement = &judged(&RULE, &rumbling(Role::LeadVocal, Tap::Raw, -10.0))[0];
        assert!(judgement.is_check && judgement.outcome == Near, "a check, near at most");
        assert!(
            judged(&RULE, &rumbling(Role::HiHat, Tap::Raw, -10.0)).is_empty(),
            "no hint for cymbals"
        );
    }

    #[test]
    fn tells_what_reaches_the_mix_where_that_is_known() {
        let mut reading = mixed(vec![channel(1, Role::LeadVocal)]);
        reading.channels[0].spectrum.below_corner_db = Fact::exact(-10.0);
        let mix = reading.mix.as_mut().expect("it was mixed");
        assert_eq!(only(&RULE, &rumbling(Role::LeadVocal, Tap::Raw, -10.0)), Near, "a hint");
        let through = mix.channels[0].tone.as_mut().expect("it has a tone");
        through.below_corner_db = Fact::AtMost { at_most: -40.0, confidence: 0.8 };
        assert_eq!(only(&RULE, &reading), OnTarget, "the filter is on");
        let mix = reading.mix.as_mut().expect("it was mixed");
        let through = mix.channels[0].tone.as_mut().expect("it has a tone");
        through.below_corner_db = Fact::sure(-10.0, 0.8);
        let judgement = &judged(&RULE, &reading)[0];
        assert!(!judgement.is_check && judgement.outcome == Outside, "the rumble is in the mix");
    }

    #[test]
    fn is_not_fooled_by_kick_spill_or_a_trombone() {
        let mut spill = rumbling(Role::LeadVocal, Tap::Raw, -10.0);
        spill.channels[0].own_to_spill_db = Fact::exact(8.0);
        assert!(matches!(only(&RULE, &spill), NotJudged(_)), "the rumble may be the kick's");
        let mut low = rumbling(Role::Brass, Tap::Raw, -10.0);
        low.channels[0].name = "Trombone".to_owned();
        assert!(matches!(only(&RULE, &low), NotJudged(_)), "a trombone plays low notes");
    }
}
