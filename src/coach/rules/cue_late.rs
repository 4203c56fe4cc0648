//! Channel opened late.
//!
//! Looks at each time a source begins after a rest, and when its channel was open. Never counts the first half minute, nor talk that was not meant for the hall.

use crate::coach::Chances;
use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Entry, Reading};
use crate::session::Role;
use crate::unit::Unit;
use crate::unit::{Fact, Span};

/// The first entries of a set belong to getting ready, in seconds.
const SETTLING_S: f64 = 30.0;
/// An entry that loses more than two syllables, in seconds.
const LONG_S: f64 = 0.5;
/// An entry that loses a syllable, in seconds.
const SYLLABLE_S: f64 = 0.2;
/// Who enters: voices, soloists and playback.
const ROLES: &[Role] = &[
    Role::Speech,
    Role::LeadVocal,
    Role::BackingVocal,
    Role::Playback,
    Role::ElectricGuitar,
    Role::Strings,
    Role::Brass,
    Role::Woodwind,
];

pub(super) const RULE: Rule = Rule {
    id: "cue-late",
    title: "Channel opened late",
    group: Group::Habits,
    tier: Tier::A,
    effect: 4,
    ease: 1,
    explains: &[],
    measures: "Time from the begin of a source after 10 s of rest to the opening of its channel in the mix, the latest entry; and how many are later than 0.5 s.",
    limbs: &[
        Limb {
            name: "latest entry",
            unit: Unit::Seconds,
            windows: &[Window::at_most(
                SYLLABLE_S,
                1.0,
                Source::Published(
                    "a syllable lasts about 0.2 s (4 to 5 syllables a second, from memory)",
                ),
            )],
        },
        Limb {
            name: "entries later than half a second",
            unit: Unit::Count,
            windows: &[Window::at_most(2.0, 2.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: f64::INFINITY, min_events: 1, ..Guards::USUAL },
    guard_text: "One entry or more, of 1.5 s of sound or more; the first 30 s are left out; a passage in which the channel stays closed is no late entry.",
    absent: "the mix could not be read back",
    heard: "{who} {is} opened late",
    why: "The first words are the ones that tell who speaks and what it is about.",
    advice: &[
        "Open the microphone when the person walks up to it, not when they speak.",
        "Keep a list of the next microphones, with a finger on the next mute.",
        "Turn those who speak often down by 15 dB instead of muting them.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The moments, each with the length that was lost.",
    fooled_by: "a cleared throat, a chair, or talk that was not meant for the hall",
    other_causes: "a speaker who starts early, or a mute group that was in the way",
    question: "Who knew that this person speaks next?",
    exercise: "Follow the running order of one evening with a finger on the next mute, without touching anything, 5 minutes.",
    praise: Some("Every one of {n} channels was open when its source began."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::in_mix(reading, ROLES)
        .filter_map(|(channel, in_mix)| {
            let counted = in_mix.entries.iter().filter(|entry| entry.at_s >= SETTLING_S);
            let entries: Vec<&Entry> = counted.collect();
            let late_s = |entry: &&Entry| entry.late_s.value();
            let latest = entries
                .iter()
                .filter(|entry| late_s(entry).is_some())
                .max_by(|a, b| late_s(a).unwrap_or(0.0).total_cmp(&late_s(b).unwrap_or(0.0)))?;
            let n_long = entries.iter().filter(|one| late_s(one) > Some(LONG_S)).count();
            let known = entries.iter().filter_map(late_s);
            let n_late = known.clone().filter(|late_s| *late_s > SYLLABLE_S).count();
            let chances = Chances { n_hits: n_late, n_chances: known.count() };
            let sure = latest.late_s.confidence();
            let mut late: Vec<&Entry> =
                entries.iter().filter(|one| late_s(one) > Some(0.0)).copied().collect();
            late.sort_by(|a, b| late_s(b).unwrap_or(0.0).total_cmp(&late_s(a).unwrap_or(0.0)));
            let around = |entry: &&Entry| {
                let late_s = late_s(entry).unwrap_or(0.0);
                Span::new((entry.at_s - BEFORE_S).max(0.0), entry.at_s + late_s + AFTER_S)
            };
            #[expect(clippy::cast_precision_loss, reason = "a session has few entries")]
            let facts = vec![Some(latest.late_s.clone()), Some(Fact::sure(n_long as f64, sure))];
            Some(Observation {
                evidence: late.iter().map(around).collect(),
                n_events: entries.len(),
                chances: Some(chances),
                affected_s: late.iter().filter_map(late_s).sum(),
                ..pick::through_mix(channel, facts)
            })
        })
        .collect()
}

/// What an ear needs around an entry, in seconds.
const BEFORE_S: f64 = 1.0;
const AFTER_S: f64 = 2.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};

    fn entering(role: Role, entries: &[[f64; 2]]) -> Reading {
        let mut reading = mixed(vec![channel(5, role)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        mix.channels[0].entries = entries
            .iter()
            .map(|&[at_s, late_s]| Entry { at_s, late_s: Fact::sure(late_s, 0.9) })
            .collect();
        reading
    }

    #[test]
    fn fires_when_words_are_lost() {
        assert_eq!(only(&RULE, &entering(Role::Speech, &[[56.6, 0.7]])), Near, "over a syllable");
        assert_eq!(only(&RULE, &entering(Role::Speech, &[[56.6, 1.4]])), Outside, "over a second");
        let often = entering(Role::LeadVocal, &[[100.0, 0.6], [200.0, 0.6], [300.0, 0.7]]);
        assert_eq!(only(&RULE, &often), Outside, "three of them");
    }

    #[test]
    fn every_entry_is_a_chance_and_each_late_one_counts() {
        let entries = [[12.0, 2.0], [56.6, 0.7], [90.0, 0.2], [120.0, 0.0], [150.0, 0.3]];
        let found = judged(&RULE, &entering(Role::Speech, &entries)).remove(0).observation.chances;
        assert_eq!(found, Some(Chances { n_hits: 2, n_chances: 4 }), "two of four after 30 s");
    }

    #[test]
    fn stays_quiet_at_a_syllable() {
        assert_eq!(
            only(&RULE, &entering(Role::Speech, &[[56.6, 0.2], [90.0, 0.0]])),
            OnTarget,
            "0.2"
        );
    }

    #[test]
    fn is_not_fooled_by_getting_ready_or_by_a_drum() {
        assert!(
            judged(&RULE, &entering(Role::Speech, &[[12.0, 2.0]])).is_empty(),
            "the first 30 s"
        );
        assert!(
            judged(&RULE, &entering(Role::Kick, &[[90.0, 2.0]])).is_empty(),
            "a kick has no cue"
        );
    }
}
