//! Choir microphones overlap.
//!
//! Looks at how alike two choir microphones are, and how far apart in time. Never gives a verdict without knowing that both are open in the mix.

use crate::coach::rule::{
    Combine, Group, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::spill::{self, Spill};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::{Fact, Unit};

/// A smaller lag puts the first dip above 1.7 kHz, where microphones side by side still agree; in seconds.
const LEAST_LAG_S: f64 = 0.0003;
/// A larger lag is heard as hall and not as a colour; in seconds (common practice).
const MOST_LAG_S: f64 = 0.010;
/// A larger difference of level leaves ripple below 10 dB (computed), in dB.
const MOST_DIFFERENCE_DB: f64 = 6.0;

pub(super) const RULE: Rule = Rule {
    id: "choir-overlap",
    title: "Choir mics overlap",
    group: Group::Microphone,
    tier: Tier::B,
    effect: 2,
    ease: 2,
    explains: &[],
    measures: "Coherence of two choir microphones, 300 Hz to 3 kHz, where one voice reaches them 0.3 to 10 ms apart and within 6 dB.",
    limbs: &[Limb {
        name: "coherence",
        unit: Unit::Correlation,
        windows: &[Window::at_most(0.3, 0.6, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: spill::GUARDS,
    guard_text: "20 s of the choir; from 300 Hz up only, since low notes are alike in any two microphones; whether both are open in the mix is not known, so it is a check.",
    absent: "no choir was recorded with two microphones",
    heard: "{who} {is} alike in what they hear",
    why: "Overlapping microphones colour the choir and cost feedback margin.",
    advice: &[
        "Use as few microphones as cover the choir, and spread them.",
        "Turn one down and listen; keep the better one.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Coherence over frequency, and the lag.",
    fooled_by: "a hall that rings long, or a loudspeaker that both hear",
    other_causes: "two microphones on purpose as a stereo pair",
    question: "What changes in the sound of the choir when one of the two is closed?",
    exercise: "Close one of two choir microphones during a chord and listen for the change of colour, 2 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Check("the fader"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let choir: Vec<Spill<'_>> = spill::all(reading)
        .filter(|spill| spill.source.role == Role::Choir && spill.mic.role == Role::Choir)
        .collect();
    // Coherence has no direction: of the two ways the one whose source stands first on the desk is judged, if there is one.
    let is_turned = |spill: &Spill<'_>| spill.source.number > spill.mic.number;
    let has_other_way = |spill: &Spill<'_>| {
        choir.iter().any(|way| way.source.id == spill.mic.id && way.mic.id == spill.source.id)
    };
    choir.iter().filter(|spill| !is_turned(spill) || !has_other_way(spill)).map(observed).collect()
}

fn observed(spill: &Spill<'_>) -> Observation {
    let within = |fact: &Fact, is_meant: fn(f64) -> bool| spill::sure(fact).map(is_meant);
    let is_lagging =
        within(&spill.pair.delay_s, |lag_s| (LEAST_LAG_S..=MOST_LAG_S).contains(&lag_s.abs()));
    let is_equal = within(&spill.pair.transfer_db, |db| db.abs() <= MOST_DIFFERENCE_DB);
    spill
        .observed(vec![Some(spill.pair.coherence.clone())])
        .doubted(
            is_lagging != Some(true),
            "one voice is not known to reach them 0.3 to 10 ms apart",
        )
        .doubted(is_equal != Some(true), "one voice is not known to be equally loud in both")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, spill};
    use crate::session::Tap;

    /// Two choir microphones; one voice is 3 dB softer in the second and arrives this much later.
    fn choir(coherence: f64, delay_s: f64, tap: Tap) -> Reading {
        let (mut left, mut right) = (channel(20, Role::Choir), channel(21, Role::Choir));
        (left.tap, right.tap) = (tap, tap);
        let mut reading = spill(left, right, -3.0);
        reading.pairs[0].coherence = Fact::sure(coherence, 0.9);
        reading.pairs[0].delay_s = Fact::sure(delay_s, 0.9);
        reading.pairs[0].transfer_db = Fact::sure(-3.0, 0.9);
        reading
    }

    #[test]
    fn fires_when_two_choir_microphones_are_alike() {
        assert_eq!(only(&RULE, &choir(0.31, 0.003, Tap::Processed)), Near, "over 0.3");
        assert_eq!(only(&RULE, &choir(0.61, 0.003, Tap::Processed)), Outside, "over 0.6");
        let judgement = &judged(&RULE, &choir(0.9, 0.003, Tap::Raw))[0];
        assert_eq!(judgement.outcome, Near, "before the fader it is near at most");
        assert!(judgement.is_check, "and a check");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &choir(0.3, 0.003, Tap::Raw)), OnTarget, "0.3 is inside");
    }

    #[test]
    fn is_not_fooled_by_two_capsules_in_one_place_or_by_the_hall() {
        let outcome = |delay_s| only(&RULE, &choir(0.9, delay_s, Tap::Raw));
        assert!(matches!(outcome(0.0001), NotJudged(_)), "0.1 ms: one place");
        assert!(matches!(outcome(0.02), NotJudged(_)), "20 ms: no colour");
        let mut far = choir(0.9, 0.003, Tap::Raw);
        far.pairs[0].transfer_db = Fact::sure(-12.0, 0.9);
        assert!(matches!(only(&RULE, &far), NotJudged(_)), "12 dB softer ripples little");
    }

    #[test]
    fn is_not_fooled_by_the_same_pair_told_both_ways() {
        let mut reading = choir(0.9, 0.003, Tap::Raw);
        let mut back = reading.pairs[0].clone();
        std::mem::swap(&mut back.source, &mut back.mic);
        reading.pairs.push(back);
        assert_eq!(judged(&RULE, &reading).len(), 1, "two microphones are one pair");
    }
}
