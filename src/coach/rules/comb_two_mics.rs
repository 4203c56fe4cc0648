//! Hollow sound from two mics on one source.
//!
//! Looks at pairs that are open together in the mix and hear one source, one later than the other. Never speaks of pairs that only might be open.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "comb-two-mics",
    title: "Hollow sound from two mics on one source",
    group: Group::Polarity,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &["thin"],
    measures: "Highest minus lowest response of the sum of two open microphones for a source that reaches one 0.3 to 10 ms after the other, within 10 dB of each other as they are mixed.",
    limbs: &[Limb {
        name: "ripple of the sum",
        unit: Unit::Db,
        windows: &[Window::at_most(
            4.0,
            8.0,
            Source::Published(
                "sum of two phasors: levels 10 dB apart ripple by 5.7 dB, 15 dB apart by 3.1 dB (computed)",
            ),
        )],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_confidence: 0.7, ..Guards::USUAL },
    guard_text: "20 s in which both are open and the source sounds; coherence of 0.4 or more; delay, spill and gains that are sure.",
    absent: "the mix could not be read back, or no two open microphones hear one source",
    heard: "{who} {is} open together on one source",
    why: "Notches every few hundred hertz thin the sound, and move when people move.",
    advice: &[
        "Use one microphone instead of two.",
        "Move the microphones apart, or each closer to its source.",
        "Pull the one that matters less down by 10 dB.",
    ],
    backing: &[Source::Published("sum of two phasors (closed form)"), Source::CommonPractice],
    shows: "The response that follows from delay and levels, with its notches.",
    fooled_by: "an early reflection of the room, and two who play the same part",
    other_causes: "a reflection from a floor, a wall or a music stand",
    question: "Which of the two microphones would be missed?",
    exercise: "Close one of the two while the source plays, and listen whether it becomes fuller, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let pairs = reading.mix.iter().flat_map(|mix| &mix.open_pairs);
    pairs
        .filter_map(|pair| {
            let (source, mic) = (reading.channel(&pair.source)?, reading.channel(&pair.mic)?);
            Some(Observation {
                also: vec![mic.id.clone()],
                active_s: pair.together_s,
                affected_s: pair.together_s,
                evidence: pair.evidence.clone(),
                detail: Some(
                    format!(
                        "{} hears {} {:.1} ms apart.",
                        mic.name,
                        source.name,
                        1000.0 * pair.delay_s.abs()
                    )
                    .into(),
                ),
                ..pick::through_mix(source, vec![Some(pair.ripple_db.clone())])
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only};
    use crate::reading::OpenPair;
    use crate::session::Role;
    use crate::unit::{Fact, Span};

    fn together(ripple_db: f64, together_s: f64) -> Reading {
        let mut reading =
            mixed(vec![channel(17, Role::LeadVocal), channel(18, Role::BackingVocal)]);
        reading.mix.as_mut().expect("it was mixed").open_pairs = vec![OpenPair {
            source: "ch17".to_owned(),
            mic: "ch18".to_owned(),
            together_s,
            level_db: Fact::sure(-8.0, 0.9),
            delay_s: 0.003,
            ripple_db: Fact::sure(ripple_db, 0.9),
            evidence: vec![Span::new(120.0, 140.0)],
        }];
        reading
    }

    #[test]
    fn fires_when_two_open_microphones_hear_one_voice() {
        assert_eq!(only(&RULE, &together(5.7, 60.0)), Near, "10 dB apart");
        assert_eq!(only(&RULE, &together(9.5, 60.0)), Outside, "6 dB apart");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &together(4.0, 60.0)), OnTarget, "4 is inside");
    }

    #[test]
    fn is_not_fooled_by_two_that_were_open_for_a_moment() {
        assert!(matches!(only(&RULE, &together(9.5, 4.0)), NotJudged(_)), "4 s are a cue");
    }
}
