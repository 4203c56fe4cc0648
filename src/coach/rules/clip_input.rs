//! Input clipped (flat tops).
//!
//! Looks at flat tops of the inputs. Never counts the flat tops of playback, or those of guitar and keys below full scale.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Tap;
use crate::unit::{Fact, Unit};

const SOURCE: Source = Source::Published(
    "counting runs of full-scale samples after Katz, Mastering Audio (from memory); borders common practice",
);

pub(super) const RULE: Rule = Rule {
    id: "clip-input",
    title: "Input clipped (flat tops)",
    group: Group::Gain,
    tier: Tier::A,
    effect: 4,
    ease: 1,
    explains: &[],
    measures: "Runs of three or more samples within 0.05 dB of a plateau that comes back, near the channel's highest level.",
    limbs: &[
        Limb {
            name: "flat tops",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 5.0, SOURCE)],
        },
        Limb {
            name: "longest flat top",
            unit: Unit::Milliseconds,
            windows: &[Window::at_most(0.0, 1.99, SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "Recordings right after the preamplifier; playback is left out; guitar and keys count at full scale only.",
    absent: "no input was recorded",
    heard: "{who} {is} clipped",
    why: "Flat tops sound harsh and cannot be undone by turning down later.",
    advice: &[
        "Lower the gain by {db} and repeat the loudest passage until peaks stay under -6 dBFS.",
        "Look before the desk (pack, microphone, pedal, DI) where the tops lie below full scale.",
        "Use the pad of microphone, DI or desk if the gain is already low.",
    ],
    backing: &[SOURCE],
    shows: "Waveform of the worst event, and a list of times.",
    fooled_by: "distorted guitar, square waves of a synthesiser, mastered loops",
    other_causes: "a pack or pedal that is overdriven before the desk",
    question: "Is the distortion heard here, and in which monitor?",
    exercise: "Find the loudest passage of each player and read its peak, 5 minutes.",
    praise: Some("No flat tops on the inputs that could be judged: {n}."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading)
        .filter_map(|input| {
            let count = pick::flat_tops(input)?;
            let is_below = pick::is_cut_before_the_desk(input);
            let observation = Observation {
                n_events: input.flat_tops.count,
                evidence: pick::moments(&input.flat_tops),
                // Flat tops are counted in samples, whatever the source does.
                confidence_cap: 1.0,
                change_db: (!is_below).then_some(STEP_DB),
                detail: is_below.then_some(BELOW.into()),
                ..Observation::of(
                    input,
                    vec![Some(count), Some(Fact::exact(input.longest_flat_top_ms))],
                )
            };
            Some(if input.tap == Tap::Raw {
                observation
            } else {
                observation.withheld(pick::PROCESSED)
            })
        })
        .collect()
}

/// How far the gain comes down at once, in dB (common practice).
const STEP_DB: f64 = -6.0;

/// What is told of tops below full scale.
const BELOW: &str = "The tops lie below full scale: they were cut off before the desk.";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::coach::wording;
    use crate::reading::{Channel, Events};
    use crate::session::Role;

    fn clipped(role: Role, count: usize, longest_ms: f64) -> Channel {
        let mut input = channel(1, role);
        input.flat_tops = Events { count, at_s: vec![60.0; count] };
        input.longest_flat_top_ms = longest_ms;
        input
    }

    #[test]
    fn fires_on_the_first_flat_top() {
        assert_eq!(
            only(&RULE, &session(vec![clipped(Role::LeadVocal, 1, 0.2)])),
            Near,
            "one short"
        );
        assert_eq!(
            only(&RULE, &session(vec![clipped(Role::LeadVocal, 6, 0.2)])),
            Outside,
            "more than 5"
        );
        assert_eq!(only(&RULE, &session(vec![clipped(Role::Kick, 1, 2.0)])), Outside, "2 ms long");
    }

    #[test]
    fn tells_tops_that_were_cut_before_the_desk() {
        let advice = |level_dbfs: f64| {
            let mut input = clipped(Role::LeadVocal, 6, 0.2);
            input.flat_top_level_dbfs = Fact::exact(level_dbfs);
            let reading = session(vec![input]);
            let judgements = judged(&RULE, &reading);
            wording::advice(&RULE, &judgements.iter().collect::<Vec<_>>())
        };
        assert!(advice(-0.1)[0].starts_with("Lower the gain by 6 dB"), "{:?}", advice(-0.1));
        assert!(advice(-31.7)[0].starts_with("Look before the desk"), "{:?}", advice(-31.7));
    }

    #[test]
    fn stays_quiet_without_flat_tops() {
        assert_eq!(only(&RULE, &session(vec![clipped(Role::LeadVocal, 0, 0.0)])), OnTarget, "none");
    }

    #[test]
    fn is_not_fooled_by_playback_and_distorted_guitar() {
        assert!(
            judged(&RULE, &session(vec![clipped(Role::Playback, 90, 5.0)])).is_empty(),
            "mastered"
        );
        let mut guitar = clipped(Role::ElectricGuitar, 90, 5.0);
        guitar.flat_top_level_dbfs = Fact::exact(-8.0);
        assert!(judged(&RULE, &session(vec![guitar])).is_empty(), "distorted before the desk");
    }

    #[test]
    fn is_not_fooled_by_a_float_peak_above_full_scale_without_plateau() {
        let mut overhead = channel(7, Role::Overhead);
        overhead.is_float = true;
        overhead.top_peak_dbfs = Fact::exact(1.2);
        assert_eq!(only(&RULE, &session(vec![overhead])), OnTarget, "no plateau, no flat top");
    }
}
