//! Handling noise, knocks or cloth rustle.
//!
//! Looks at the pauses of voices, choirs and strings. Never counts what several other microphones hear.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::unit::{Fact, Unit, Unmeasured};

/// A rate over less time than this jumps with every single knock, in seconds.
const MIN_RATE_S: f64 = 60.0;

/// How sure a knock is: a cough is one too.
const SURE: f64 = 0.8;

pub(super) const RULE: Rule = Rule {
    id: "mic-thumps",
    title: "Handling noise, knocks or cloth rustle",
    group: Group::Microphone,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Bursts that lie for the most part below 120 Hz, and rustle from 1 to 6.3 kHz, 15 dB or more over what the microphone hears in the pauses of its source, per minute of pause.",
    limbs: &[Limb {
        name: "knocks and rustle",
        unit: Unit::PerMinute,
        windows: &[Window::at_most(1.0, 4.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "Pauses from 0.7 s after the source to 0.7 s before it; none within 60 ms of kick, bass or toms; no more than three and no more than a quarter of the other inputs get louder by 6 dB; a rate over at least one minute. Much is missed while others play, cloth most of all.",
    absent: "no voice, choir or strings were recorded with a microphone",
    heard: "{who} {is} knocked or rubbed in the pauses",
    why: "Knocks reach the audience louder than words.",
    advice: &[
        "Use a stand instead of the hand, and clip away from scarf, badge and hair.",
        "Route the cable with a loop, and put rubber feet under the stand.",
        "Mute while microphones change hands.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Times of the knocks and rustles.",
    fooled_by: "drum hits on a hollow stage, coughs, or clapping beside the microphone",
    other_causes: "a stand on a hollow floor, or a loose clip",
    question: "Who touched the microphone or its cable there?",
    exercise: "Take up, hand over and put down an open microphone without a sound on the headphones, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading).filter_map(of).collect()
}

/// Pauses that have to be looked at before none is a finding, in seconds.
const MIN_PAUSES_S: f64 = 20.0;

/// Why none was found.
const SHORT: Unmeasured = Unmeasured::Because(
    "knocks are looked for in pauses of 1.4 s or more, and these last less than 20 s together",
);

fn of(input: &Channel) -> Option<Observation> {
    let thumps = input.microphone.thumps.as_ref()?;
    let pauses_s = input.microphone.thump_pauses_s?;
    let per_minute = if thumps.count == 0 && pauses_s < MIN_PAUSES_S {
        Fact::missing(SHORT)
    } else {
        Fact::sure(thumps.count as f64 * 60.0 / pauses_s.max(MIN_RATE_S), SURE)
    };
    Some(Observation {
        n_events: thumps.count,
        evidence: pick::moments(thumps),
        ..pick::raw_by_role(input, vec![Some(per_minute)])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::reading::Events;
    use crate::session::Role;

    fn outcome(n_thumps: usize, duration_s: f64) -> Outcome {
        let mut host = channel(21, Role::Speech);
        host.duration_s = duration_s;
        host.microphone.thump_pauses_s = Some(duration_s - 30.0);
        host.microphone.thumps = Some(Events { count: n_thumps, at_s: vec![30.0; n_thumps] });
        only(&RULE, &session(vec![host]))
    }

    #[test]
    fn is_not_fooled_by_pauses_that_are_too_short() {
        assert!(matches!(outcome(0, 45.0), NotJudged(why) if why.contains("less than 20 s")));
        assert_eq!(outcome(0, 52.0), OnTarget, "22 s of pauses");
        assert_eq!(outcome(5, 45.0), Outside, "what is heard there counts all the same");
    }

    #[test]
    fn fires_when_more_than_one_knock_a_minute_is_heard() {
        assert_eq!(outcome(7, 330.0), Near, "7 in 5 minutes of pause");
        assert_eq!(outcome(21, 330.0), Outside, "more than 4 a minute");
    }

    #[test]
    fn stays_quiet_at_one_knock_a_minute() {
        assert_eq!(outcome(5, 330.0), OnTarget, "1 a minute is inside");
    }

    #[test]
    fn is_not_fooled_by_one_knock_in_a_short_pause() {
        assert_eq!(outcome(1, 40.0), OnTarget, "6 a minute would be an artefact of the short time");
        let drums = session(vec![channel(1, Role::Kick)]);
        assert!(judged(&RULE, &drums).iter().all(|one| one.channels.is_empty()), "not looked at");
    }
}
