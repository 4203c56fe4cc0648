//! Compressor works too hard.
//!
//! Looks at what a compressor takes off between the two taps of a channel, else in the mix. Gives a bound where only the mix tells, and never speaks of gates or of channels that carry one signal.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
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
    measures: "Gain reduction of the channel between its two taps in its loudest minute, 90th percentile, and the share of that time above 10.5 dB; where only the mix tells, what it takes off loud moments at least, slow moves of the fader aside.",
    limbs: &[
        Limb {
            name: "gain reduction",
            unit: Unit::Db,
            windows: &[Window::at_most(9.0, 10.5, Source::CommonPractice)],
        },
        Limb {
            name: "time above 10.5 dB",
            unit: Unit::Percent,
            windows: &[Window::at_most(10.0, 10.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Between],
    guards: Guards { min_active_s: 20.0, min_confidence: 0.7, ..Guards::USUAL },
    guard_text: "20 s of the source; slow moves of the fader are taken off; a bound is judged only where all of it lies beyond the border.",
    absent: "one recording alone tells no gain reduction: no channel was recorded on both sides of its processing, and the mix could not be read back",
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
    let between = pick::between_taps(reading, ROLES);
    let is_told = |channel: &Channel| {
        between
            .clone()
            .any(|(raw, one)| raw.id == channel.id && one.loud_reduction_db.reason().is_none())
    };
    let by_mix = pick::in_mix(reading, ROLES)
        .filter(|(_, in_mix)| in_mix.gain_reduction_db.reason().is_none())
        .filter(|(channel, _)| !is_told(channel))
        .map(|(channel, in_mix)| {
            let facts = vec![Some(in_mix.gain_reduction_db.clone()), None];
            pick::through_songs(reading, channel, facts)
        });
    let by_taps = between.clone().filter(|(raw, _)| is_told(raw)).map(|(raw, one)| {
        let facts = [&one.loud_reduction_db, &one.deep_percent];
        let facts = facts.map(|fact| Some(fact.clone())).to_vec();
        pick::through_songs(reading, raw, facts)
    });
    by_taps.chain(by_mix).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only, processing};
    use crate::reading::Processing;
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
    fn fires_when_the_two_taps_tell_whatever_the_mix_says() {
        let raw = channel(18, Role::BackingVocal);
        let mut behind = channel(29, Role::BackingVocal);
        let between = processing(&raw);
        behind.processing =
            Some(Processing { loud_reduction_db: Fact::sure(14.0, 0.9), ..between });
        let mut reading = mixed(vec![raw]);
        reading.channels.push(behind);
        assert_eq!(judged(&RULE, &reading).len(), 1, "one judgement of one voice");
        assert_eq!(only(&RULE, &reading), Outside, "over 10.5");
        reading.mix = None;
        assert_eq!(only(&RULE, &reading), Outside, "without a mix as well");
        let processing = reading.channels.iter_mut().filter_map(|one| one.processing.as_mut());
        for processing in processing {
            processing.loud_reduction_db = Fact::sure(8.0, 0.9);
            processing.deep_percent = Fact::sure(12.0, 0.9);
        }
        assert_eq!(only(&RULE, &reading), Outside, "an eighth of the time");
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
