//! DI and mic of one source arrive apart.
//!
//! Looks at a DI and a microphone on one source. Never judges drums, whose microphones stand apart by design.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Kinship, Reading};
use crate::session::Family;
use crate::unit::Unit;

/// Below this the two may be different sounds (common practice for a shared signal).
const SHARED: f64 = 0.5;

pub(super) const RULE: Rule = Rule {
    id: "pair-late",
    title: "DI and mic of one source arrive apart",
    group: Group::Polarity,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &["comb-two-mics"],
    measures: "Lag of the correlation peak between a DI and a microphone on one source.",
    limbs: &[Limb {
        name: "lag",
        unit: Unit::Milliseconds,
        windows: &[Window::at_most(
            0.3,
            1.5,
            Source::Computed("sound travels 0.34 m in 1 ms; borders common practice"),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of the source; a correlation of at least 0.5; whether both are open in the mix is not known, so it is a check.",
    absent: "no source was recorded with both a DI and a microphone",
    heard: "{who} {is} apart in time",
    why: "A small delay makes a hollow comb pattern when both are mixed.",
    advice: &[
        "Use the better one alone.",
        "Delay the earlier of the two by the shown time if the desk can.",
        "Change the distance of the microphone.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Correlation over lag, with the distance in centimetres.",
    fooled_by: "the delay of a plug-in on one recording, or two instruments in unison",
    other_causes: "a modeller or wireless pack that adds delay",
    question: "Which of the two sounds better alone?",
    exercise: "Listen to DI, microphone and both, and name the hollow one, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Check("the fader"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let pairs = reading.pairs.iter().filter(|pair| pair.kinship == Kinship::SameSource);
    pairs
        .filter_map(|pair| {
            let (source, mic) = pick::both(reading, pair)?;
            if source.is_line == mic.is_line || source.role.family() == Family::Drums {
                return None;
            }
            let lag_ms = pick::map(&pair.delay_s, |delay_s| delay_s.abs() * 1000.0);
            let is_shared = pair.body_correlation.value().is_some_and(|size| size.abs() >= SHARED);
            Some(
                pick::pair(source, mic, pair, vec![Some(lag_ms)])
                    .doubted(!is_shared, "the two share too little of their sound"),
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget};
    use crate::coach::example::{channel, only, pair, with_pair};
    use crate::session::Role;
    use crate::unit::Fact;

    fn bass(lag_s: f64, correlation: f64) -> Reading {
        let (di, mut mic) = (channel(10, Role::Bass), channel(11, Role::Bass));
        mic.is_line = false;
        let mut both = pair(&di, &mic, Kinship::SameSource);
        both.delay_s = Fact::exact(lag_s);
        both.body_correlation = Fact::exact(correlation);
        with_pair(di, mic, both)
    }

    #[test]
    fn fires_when_the_microphone_arrives_late() {
        assert_eq!(only(&RULE, &bass(0.0005, 0.8)), Near, "0.5 ms");
        assert_eq!(
            only(&RULE, &bass(-0.003, 0.8)),
            Near,
            "3 ms, but a check before the fader is near at most"
        );
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &bass(0.0003, 0.8)), OnTarget, "0.3 ms is inside");
    }

    #[test]
    fn is_not_fooled_by_two_players_in_unison() {
        assert!(matches!(only(&RULE, &bass(0.002, 0.3)), NotJudged(_)), "too little is shared");
    }
}
