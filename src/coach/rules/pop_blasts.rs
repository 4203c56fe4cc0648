//! P and B blasts in the voice.
//!
//! Looks at breath blasts of solo voices. Never counts blasts that a drum or bass explains: the measurement leaves those out.

use std::collections::BTreeSet;

use crate::coach::Chances;
use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::unit::{Fact, Unit};

/// A rate over less time than this jumps with every single blast, in seconds.
const MIN_RATE_S: f64 = 60.0;

pub(super) const RULE: Rule = Rule {
    id: "pop-blasts",
    title: "P and B blasts in the voice",
    group: Group::Microphone,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Bursts in 20-100 Hz of 20-80 ms, higher than 6 dB under the voice's loud level, without a kick or bass onset, per minute of voice.",
    limbs: &[Limb {
        name: "blasts",
        unit: Unit::PerMinute,
        windows: &[Window::at_most(1.0, 4.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of the voice; a rate over at least one minute, so that one blast in a short talk is none.",
    absent: "no voice was recorded",
    heard: "{who} {is} thumping on P and B",
    why: "Breath blasts thump in the low loudspeakers and trigger the compressor.",
    advice: &[
        "Move the microphone a little to the side or slightly above the breath.",
        "Put a foam windshield on.",
        "Switch the high-pass on, 80-120 Hz.",
    ],
    backing: &[Source::CommonPractice],
    shows: "List of times, and the waveform of the worst.",
    fooled_by: "spill of the kick, footsteps, or knocks on the stand",
    other_causes: "a thin or missing windshield, or a voice very close to the microphone",
    question: "Which words thump, and where does the breath go?",
    exercise: "Say a line full of P and B straight on and slightly beside the microphone, 2 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let voices = reading.with_role(pick::SOLO_VOICES);
    voices
        .map(|voice| {
            let minutes = voice.active_s.max(MIN_RATE_S) / 60.0;
            let per_minute = Fact::exact(voice.pops.count as f64 / minutes);
            Observation {
                n_events: voice.pops.count,
                chances: Some(chances(voice)),
                evidence: pick::moments(&voice.pops),
                ..pick::raw_by_role(voice, vec![Some(per_minute)])
            }
        })
        .collect()
}

/// Minutes of the clock in which the voice sounded, and those of them with a blast.
fn chances(voice: &Channel) -> Chances {
    let minutes: BTreeSet<u64> =
        voice.active.iter().flat_map(|span| minute(span.start_s)..=minute(span.end_s)).collect();
    let thumping: BTreeSet<u64> = voice.pops.at_s.iter().map(|at_s| minute(*at_s)).collect();
    Chances { n_hits: minutes.intersection(&thumping).count(), n_chances: minutes.len() }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time in the session is not negative"
)]
fn minute(at_s: f64) -> u64 {
    (at_s / 60.0) as u64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::reading::Events;
    use crate::session::Role;
    use crate::unit::Span;

    fn outcome(n_pops: usize, active_s: f64) -> Outcome {
        let mut voice = channel(1, Role::Speech);
        voice.active_s = active_s;
        voice.pops = Events { count: n_pops, at_s: vec![30.0; n_pops] };
        only(&RULE, &session(vec![voice]))
    }

    #[test]
    fn fires_when_more_than_one_blast_a_minute_is_heard() {
        assert_eq!(outcome(7, 360.0), Near, "7 in 6 minutes");
        assert_eq!(outcome(25, 360.0), Outside, "more than 4 a minute");
    }

    #[test]
    fn every_minute_with_the_voice_is_a_chance() {
        let mut voice = channel(1, Role::Speech);
        voice.active = vec![Span::new(50.0, 130.0), Span::new(200.0, 210.0)];
        voice.pops = Events { count: 3, at_s: vec![55.0, 57.0, 205.0] };
        let found = judged(&RULE, &session(vec![voice])).remove(0).observation.chances;
        assert_eq!(found, Some(Chances { n_hits: 2, n_chances: 4 }), "minutes 0, 1, 2 and 3");
    }

    #[test]
    fn stays_quiet_at_one_blast_a_minute() {
        assert_eq!(outcome(6, 360.0), OnTarget, "1 a minute is inside");
    }

    #[test]
    fn is_not_fooled_by_one_blast_in_a_short_talk() {
        assert_eq!(outcome(1, 20.0), OnTarget, "3 a minute would be an artefact of the short time");
    }
}
