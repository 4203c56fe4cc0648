//! Wireless dropouts.
//!
//! Looks at gaps of one wireless input below all that its microphone ever hears. Never counts pauses, or gaps that others share.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::unit::{Fact, Unit};

/// A shorter recording counts as an hour: one gap in ten minutes is not six.
const HOUR_S: f64 = 3600.0;

/// How sure a gap is: a switch at the microphone makes one too.
const SURE: f64 = 0.8;

pub(super) const RULE: Rule = Rule {
    id: "radio-fade",
    title: "Wireless dropouts",
    group: Group::Microphone,
    tier: Tier::B,
    effect: 3,
    ease: 2,
    explains: &[],
    measures: "Gaps of 20 ms to 3 s in which a sounding channel falls at once by 30 dB or more, to 8 dB or more under its floor, and comes back, per hour.",
    limbs: &[Limb {
        name: "gaps",
        unit: Unit::PerHour,
        windows: &[Window::at_most(0.0, 2.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "Speech and lead voices that are not noted as wired, and what is noted as wireless; a gap lies below all that the microphone hears in pauses; no other channel has one at the moment; a rate over at least one hour. Bursts of noise are not looked for.",
    absent: "no voice, and nothing noted as wireless, was recorded",
    heard: "{who} {is} cut by dropouts",
    why: "A dropout swallows words.",
    advice: &[
        "Put fresh batteries in before every event, and note the date on them.",
        "Put the receiver's antennas in sight of the stage, at head height.",
        "Find free frequencies by a scan, as the law of the country allows.",
        "Keep a spare cabled microphone ready.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Times of the gaps.",
    fooled_by: "a switch at the microphone that is off for a moment",
    other_causes: "a loose plug or a broken cable",
    question: "Where did the singer stand, and how old were the batteries?",
    exercise: "Walk the stage with each wireless microphone and talk, while somebody watches the receivers, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading).filter_map(of).collect()
}

fn of(input: &Channel) -> Option<Observation> {
    let fades = input.microphone.fades.as_ref()?;
    let per_hour = fades.count as f64 * HOUR_S / input.duration_s.max(HOUR_S);
    Some(Observation {
        n_events: fades.count,
        evidence: pick::moments(fades),
        ..Observation::of(input, vec![Some(Fact::sure(per_hour, SURE))])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::reading::Events;
    use crate::session::Role;

    fn fading(at_s: &[f64]) -> Channel {
        let mut host = channel(21, Role::Speech);
        host.microphone.fades = Some(Events { count: at_s.len(), at_s: at_s.to_vec() });
        host
    }

    #[test]
    fn fires_on_gaps() {
        assert_eq!(only(&RULE, &session(vec![fading(&[60.0])])), Near, "one");
        assert_eq!(only(&RULE, &session(vec![fading(&[60.0, 90.0, 95.0])])), Outside, "three");
    }

    #[test]
    fn stays_quiet_without_gaps() {
        assert_eq!(only(&RULE, &session(vec![fading(&[])])), OnTarget, "none");
    }

    #[test]
    fn is_not_fooled_by_what_is_wired() {
        let wired = session(vec![channel(21, Role::Speech)]);
        assert!(judged(&RULE, &wired).iter().all(|one| one.channels.is_empty()), "not looked for");
    }

    #[test]
    fn is_not_fooled_by_a_long_night() {
        let mut host = fading(&[60.0, 90.0, 95.0]);
        host.duration_s = 2.0 * HOUR_S;
        assert_eq!(only(&RULE, &session(vec![host])), Near, "1.5 an hour");
    }
}
