//! Overheads hear the snare unevenly.
//!
//! Looks at how early and how loud the snare arrives in both overheads. Never gives a verdict without knowing how loud they are in the mix.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::spill::{self, Spill};
use crate::reading::{Channel, Pair, Reading};
use crate::session::{Role, Tap};
use crate::unit::{Fact, Unit, Unmeasured};

pub(super) const RULE: Rule = Rule {
    id: "overheads-uneven",
    title: "Overheads hear the snare unevenly",
    group: Group::Polarity,
    tier: Tier::B,
    effect: 1,
    ease: 2,
    explains: &[],
    measures: "Difference between both overheads in the arrival of the snare, and in its level.",
    limbs: &[
        Limb {
            name: "arrival apart",
            unit: Unit::Milliseconds,
            windows: &[Window::at_most(0.5, 1.0, Source::CommonPractice)],
        },
        Limb {
            name: "levels apart",
            unit: Unit::Db,
            windows: &[Window::at_most(3.0, 6.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: spill::GUARDS,
    guard_text: "20 s of the snare; its way to both overheads has to be sure; how loud the overheads are in the mix is not known, so it is a check.",
    absent: "no snare was recorded with two overheads",
    heard: "{who} {is} uneven towards the snare",
    why: "The snare drifts to one side and sounds hollow.",
    advice: &[
        "Set both overheads equally far from the snare, with a string.",
        "Set the same gain on both.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The mean of 40 hits in both overheads.",
    fooled_by: "a spaced pair that was placed for the cymbals on purpose",
    other_causes: "two unlike microphones or gains",
    question: "Where does the snare stand when only the overheads are open?",
    exercise: "Listen to the overheads alone on headphones and point at the snare, 1 minute.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Check("the fader"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let overheads: Vec<&Channel> = reading.with_role(&[Role::Overhead]).collect();
    let [left, right] = overheads.as_slice() else { return Vec::new() };
    // The lower head stands for the snare only where the upper one has no microphone.
    let snare =
        reading.with_role(&[Role::SnareTop]).chain(reading.with_role(&[Role::SnareBottom])).next();
    snare.map(|snare| observed(reading, snare, left, right)).into_iter().collect()
}

fn observed(reading: &Reading, snare: &Channel, left: &Channel, right: &Channel) -> Observation {
    let way = |overhead: &Channel| {
        spill::all(reading).find(|spill| spill.source.id == snare.id && spill.mic.id == overhead.id)
    };
    let ways: Vec<Spill<'_>> = [left, right].into_iter().filter_map(way).collect();
    let apart = |of: fn(&Pair) -> &Fact| match ways.as_slice() {
        [one, other] => {
            pick::join(of(one.pair), of(other.pair), |left, right| (left - right).abs())
        }
        _ => Fact::missing(Unmeasured::Because(
            "the way of the snare to both overheads was not measured",
        )),
    };
    let lag_ms = pick::map(&apart(|pair| &pair.delay_s), |apart_s| 1000.0 * apart_s);
    let facts = vec![Some(lag_ms), Some(apart(|pair| &pair.transfer_db))];
    let roles = [snare, left, right].map(|channel| channel.role_confidence);
    Observation {
        channels: vec![left.id.clone(), right.id.clone()],
        also: vec![snare.id.clone()],
        evidence: spill::evidence(&ways[..ways.len().min(1)]),
        confidence_cap: roles.into_iter().fold(1.0, f64::min),
        is_raw: left.tap == Tap::Raw && right.tap == Tap::Raw,
        ..pick::by_role(snare, facts)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session, spilled};

    /// A snare whose way to the right overhead is longer by this much and softer by this much.
    fn kit(later_s: f64, softer_db: f64, tap: Tap) -> Reading {
        let snare = channel(2, Role::SnareTop);
        let overheads = [6, 7].map(|number| Channel { tap, ..channel(number, Role::Overhead) });
        let pairs = overheads.iter().zip([0.0, 1.0]).map(|(overhead, share)| {
            let mut pair = spilled(&snare, overhead, -3.0);
            pair.delay_s = Fact::sure(0.003 + share * later_s, 0.9);
            pair.transfer_db = Fact::sure(-12.0 - share * softer_db, 0.9);
            pair
        });
        Reading { pairs: pairs.collect(), ..session([vec![snare], overheads.to_vec()].concat()) }
    }

    #[test]
    fn fires_when_the_snare_is_nearer_to_one_overhead() {
        assert_eq!(only(&RULE, &kit(0.0006, 0.0, Tap::Processed)), Near, "over 0.5 ms");
        assert_eq!(only(&RULE, &kit(-0.0011, 0.0, Tap::Processed)), Outside, "over 1 ms");
        assert_eq!(only(&RULE, &kit(0.0, 3.1, Tap::Processed)), Near, "over 3 dB");
        assert_eq!(only(&RULE, &kit(0.0, -6.1, Tap::Processed)), Outside, "over 6 dB");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &kit(0.00049, 2.99, Tap::Processed)), OnTarget, "inside");
    }

    #[test]
    fn is_not_fooled_by_a_pair_that_stands_for_the_cymbals() {
        let judgement = &judged(&RULE, &kit(0.002, 8.0, Tap::Raw))[0];
        assert_eq!(judgement.outcome, Near, "near at most while the mix is not known");
        assert!(judgement.is_check, "a check, not a finding");
    }

    #[test]
    fn is_not_fooled_by_one_overhead_or_by_a_way_that_is_not_known() {
        let mut one = kit(0.002, 8.0, Tap::Raw);
        one.pairs.pop();
        assert!(matches!(only(&RULE, &one), NotJudged(_)), "one way was measured");
        one.channels.pop();
        assert!(judged(&RULE, &one).is_empty(), "one overhead is not uneven");
        let mut bound = kit(0.0, 8.0, Tap::Raw);
        bound.pairs[1].transfer_db = Fact::AtMost { at_most: -20.0, confidence: 0.9 };
        bound.pairs[1].delay_s = Fact::missing(Unmeasured::Because("no peak stands out"));
        assert!(matches!(only(&RULE, &bound), NotJudged(_)), "a bound has no difference");
    }
}
