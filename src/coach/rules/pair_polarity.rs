//! Two mics on one source pull against each other.
//!
//! Looks at two microphones, or a microphone and a DI, on one source. Never gives a verdict on recordings taken before the polarity button.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Kinship, Pair, Reading};
use crate::unit::Unit;

/// Below this size the two hardly share a sound, and the sign says nothing.
const SHARED: f64 = 0.2;

pub(super) const RULE: Rule = Rule {
    id: "pair-polarity",
    title: "Two mics on one source pull against each other",
    group: Group::Polarity,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &["thin"],
    measures: "Sign and size of the correlation of two channels on one source, at the best lag within 1.5 ms, in 60-500 Hz (snare 150-800 Hz).",
    limbs: &[Limb {
        name: "correlation",
        unit: Unit::Correlation,
        windows: &[Window::at_least(0.2, -0.4, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of the source; a correlation of at least 0.2 in size; before the polarity button it is a check only.",
    absent: "no source was recorded on two channels",
    heard: "{who} {is} opposed in polarity",
    why: "Opposite polarity cancels the body of the sound.",
    advice: &[
        "Check that polarity is flipped on one of the two.",
        "Keep the fuller of the two settings.",
        "Check cables and the wiring of the DI.",
        "Move one microphone a few centimetres.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Waveforms of 20 hits over each other, and the level of the sum both ways.",
    fooled_by: "recordings taken before the polarity button: a snare's lower head is expected to look inverted there",
    other_causes: "a cable or DI with crossed pins",
    question: "Which setting of the button sounds fuller?",
    exercise: "Flip one of the two while the player repeats one hit, eyes closed, 2 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Check("the polarity button"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let pairs = reading.pairs.iter().filter(|pair| pair.kinship == Kinship::SameSource);
    pairs
        .filter_map(|pair| {
            let (source, mic) = pick::both(reading, pair)?;
            // The sign of the body counts: what lies above it arrives in other phases anyway.
            let signed = pair.body_correlation.clone();
            let desk = in_mix(reading, pair);
            let signed = desk.map_or(signed.clone(), |sign| pick::map(&signed, |size| sign * size));
            let is_shared = signed.value().is_some_and(|size| size.abs() >= SHARED);
            let observation = pick::pair(source, mic, pair, vec![Some(signed)]);
            Some(
                Observation { is_raw: observation.is_raw && desk.is_none(), ..observation }
                    .doubted(!is_shared, "the two hardly share a sound in the range of its body"),
            )
        })
        .collect()
}

/// 1 if the desk leaves the two as they are to each other, -1 if it turns one of them; none where the mix does not tell.
fn in_mix(reading: &Reading, pair: &Pair) -> Option<f64> {
    let mix = reading.mix.as_ref()?;
    let sign = |id: &str| mix.channel(id)?.polarity.value();
    Some(sign(&pair.source)? * sign(&pair.mic)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only, pair, with_pair};
    use crate::session::{Role, Tap};
    use crate::unit::Fact;

    fn snare(correlation: f64, tap: Tap) -> Reading {
        let (mut top, mut bottom) = (channel(2, Role::SnareTop), channel(3, Role::SnareBottom));
        (top.tap, bottom.tap) = (tap, tap);
        let mut both = pair(&top, &bottom, Kinship::SameSource);
        both.body_correlation = Fact::exact(correlation);
        with_pair(top, bottom, both)
    }

    #[test]
    fn fires_when_processed_tracks_pull_against_each_other() {
        assert_eq!(only(&RULE, &snare(-0.3, Tap::Processed)), Near, "inverted, weak");
        assert_eq!(only(&RULE, &snare(-0.6, Tap::Processed)), Outside, "inverted, clear");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &snare(0.2, Tap::Raw)), OnTarget, "0.2 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_snare_bottom_before_the_polarity_button() {
        let judgement = &judged(&RULE, &snare(-0.9, Tap::Raw))[0];
        assert!(judgement.is_check, "a check, not a finding");
        assert_eq!(judgement.outcome, Near, "near at most");
    }

    #[test]
    fn is_not_fooled_by_a_treble_that_agrees() {
        let mut snare = snare(-0.7, Tap::Processed);
        snare.pairs[0].polarity = Fact::sure(1.0, 0.5);
        assert_eq!(only(&RULE, &snare), Outside, "the body cancels");
    }

    #[test]
    fn tells_what_reaches_the_mix_where_that_is_known() {
        let mut turned = snare(-0.9, Tap::Raw);
        let mut mix = mixed(turned.channels.clone()).mix.expect("it was mixed");
        turned.mix = Some(mix.clone());
        let judgement = &judged(&RULE, &turned)[0];
        assert!(!judgement.is_check && judgement.outcome == Outside, "nobody pressed the button");
        mix.channels[1].polarity = Fact::exact(-1.0);
        turned.mix = Some(mix);
        assert_eq!(only(&RULE, &turned), OnTarget, "the button is pressed");
    }

    #[test]
    fn is_not_fooled_by_two_channels_that_hardly_share_a_sound() {
        assert!(
            matches!(only(&RULE, &snare(-0.1, Tap::Processed)), NotJudged(_)),
            "size under 0.2"
        );
    }
}
