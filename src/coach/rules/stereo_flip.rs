//! One side of a stereo source is inverted.
//!
//! Looks at the two sides of a stereo source. Never calls a wide patch inverted: most blocks and the low end have to agree.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Kinship, Reading};
use crate::session::Role;
use crate::unit::Unit;

/// Share of active blocks that have to be inverted, 0 to 100.
const LASTING_PERCENT: f64 = 80.0;

pub(super) const RULE: Rule = Rule {
    id: "stereo-flip",
    title: "One side of a stereo source is inverted",
    group: Group::Polarity,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &["mono-fold"],
    measures: "Correlation of left and right of a stereo pair, 100 Hz to 2 kHz, loudness-weighted median of blocks.",
    limbs: &[Limb {
        name: "correlation",
        unit: Unit::Correlation,
        windows: &[Window::at_least(
            0.0,
            -0.3,
            Source::Published(
                "common practice; correlation meter practice after Katz, Mastering Audio (from memory)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "20 s of the source; inverted in 80 % of active blocks or more, and below 500 Hz too.",
    absent: "no stereo source was recorded",
    heard: "{who} {is} inverted against each other",
    why: "In mono, or in the middle of the hall, the source vanishes.",
    advice: &[
        "Check the cable or adapter of one side.",
        "Press polarity on one side and listen in mono.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Correlation over time.",
    fooled_by: "wide synthesiser patches and chorus effects",
    other_causes: "a headphone or balanced output plugged as two channels",
    question: "What is left of it in mono?",
    exercise: "Sum three stereo sources to mono one after the other and name what gets lost, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let pairs = reading.pairs.iter().filter(|pair| pair.kinship == Kinship::StereoPair);
    pairs
        .filter_map(|pair| {
            let (source, mic) = pick::both(reading, pair)?;
            if !matches!(source.role, Role::Keys | Role::Playback | Role::Overhead | Role::Main) {
                return None;
            }
            let is_lasting =
                pair.inverted_percent.value().is_some_and(|share| share >= LASTING_PERCENT);
            let is_low_too = pair.body_correlation.value().is_some_and(|size| size < 0.0);
            Some(
                pick::pair(source, mic, pair, vec![Some(pair.correlation.clone())])
                    .doubted(!is_lasting, "it is inverted now and then only, as a wide patch is")
                    .doubted(
                        !is_low_too,
                        "it is not known to be inverted below 500 Hz, as a crossed cable would be",
                    ),
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, pair, with_pair};
    use crate::unit::Fact;

    fn keys(correlation: f64, share: f64, low: f64) -> Reading {
        let (left, right) = (channel(13, Role::Keys), channel(14, Role::Keys));
        let mut both = pair(&left, &right, Kinship::StereoPair);
        both.correlation = Fact::exact(correlation);
        both.inverted_percent = Fact::exact(share);
        both.body_correlation = Fact::exact(low);
        with_pair(left, right, both)
    }

    #[test]
    fn fires_when_one_side_is_inverted() {
        assert_eq!(only(&RULE, &keys(-0.2, 85.0, -0.5)), Near, "weakly");
        assert_eq!(only(&RULE, &keys(-0.9, 100.0, -0.9)), Outside, "clearly");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &keys(0.0, 50.0, 0.1)), OnTarget, "0 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_wide_patch() {
        assert!(matches!(only(&RULE, &keys(-0.4, 60.0, -0.2)), NotJudged(_)), "only at times");
        assert!(matches!(only(&RULE, &keys(-0.4, 90.0, 0.6)), NotJudged(_)), "not at the low end");
    }
}
