//! Compressor works too hard.
//!
//! Looks at what a compressor takes off in the mix. Gives a bound where only the mix tells, and never speaks of gates or of channels that carry one signal.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

const ROLES: &[Role] =
    &[Role::LeadVocal, Role::BackingVocal, Role::Speech, Role::Bass, Role::AcousticGuitar];

pub(super) const RULE: Rule = Rule {
    id: "comp-heavy",
    title: "Compressor works too hard",
    group: Group::Dynamics,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &["comp-pump", "ring-near"],
    measures: "Gain reduction of the channel in loud moments, slow moves of the fader taken off; at least so much where only the mix tells.",
    limbs: &[Limb {
        name: "gain reduction",
        unit: Unit::Db,
        windows: &[Window::at_most(9.0, 10.5, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 20.0, min_confidence: 0.7, ..Guards::USUAL },
    guard_text: "20 s of the source; slow moves of the fader are taken off; a bound is judged only where all of it lies beyond the border.",
    absent: "the mix could not be read back",
    heard: "{who} {is} pressed hard by its compressor",
    why: "What is pressed and given back lifts spill and feedback.",
    advice: &[
        "Ask the singer for a steadier distance, and set the gain first.",
        "Raise the threshold until loud phrases move the meter by about 6, at most 9 dB.",
        "Take as much off the make-up, and lift the fader instead.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Gain reduction over the song, with lines at 6 and 9 dB.",
    fooled_by: "rides of the fader, a compressor on the group, and a gate",
    other_causes: "a compressor on the group or on the mix",
    question: "How far does the meter of this compressor move on the loudest word?",
    exercise: "Set the threshold of one voice from 0 to 9 dB and back to 6 dB, and hear what changes, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::in_mix(reading, ROLES)
        .filter(|(_, in_mix)| in_mix.gain_reduction_db.reason().is_none())
        .map(|(channel, in_mix)| {
            pick::through_mix(channel, vec![Some(in_mix.gain_reduction_db.clone())])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only};
    use crate::unit::Fact;

    fn pressed(fact: Fact) -> Reading {
        let mut reading = mixed(vec![channel(18, Role::BackingVocal)]);
        reading.mix.as_mut().expect("it was mixed").channels[0].gain_reduction_db = fact;
        reading
    }

    #[test]
    fn fires_when_loud_notes_are_pressed() {
        assert_eq!(only(&RULE, &pressed(Fact::sure(10.0, 0.9))), Near, "over 9");
        assert_eq!(only(&RULE, &pressed(Fact::sure(14.0, 0.9))), Outside, "over 10.5");
        let bound = Fact::AtLeast { at_least: 11.0, confidence: 0.9 };
        assert_eq!(only(&RULE, &pressed(bound)), Outside, "all of it lies beyond");
    }

    #[test]
    fn stays_quiet_at_nine() {
        assert_eq!(only(&RULE, &pressed(Fact::sure(9.0, 0.9))), OnTarget, "9 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_bound() {
        let bound = Fact::AtLeast { at_least: 4.0, confidence: 0.9 };
        assert!(matches!(only(&RULE, &pressed(bound)), NotJudged(_)), "it may be 4 or 14");
    }
}
