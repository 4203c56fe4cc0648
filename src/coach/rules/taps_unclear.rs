//! Main mix or tap point missing.
//!
//! Looks at whether the main mix and the point of recording are known. Never counts a guess as known.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::{Fact, Unit};

pub(super) const RULE: Rule = Rule {
    id: "taps-unclear",
    title: "Main mix or tap point missing",
    group: Group::Recording,
    tier: Tier::A,
    effect: 1,
    ease: 1,
    explains: &[],
    measures: "How many of two things are not known: the main mix, and where on the desk the channels were recorded.",
    limbs: &[Limb {
        name: "open points",
        unit: Unit::Count,
        windows: &[Window::at_most(0.0, 1.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "The whole recording.",
    absent: "no channel was recorded",
    heard: "{who} {is} not fully described",
    why: "Without the main mix, notes about balance, faders and cues are not possible.",
    advice: &[
        "Record the main left and right on two spare tracks.",
        "Note once in session.toml whether tracks are taken before or after processing.",
    ],
    backing: &[Source::CommonPractice],
    shows: "List of rules that rest, and why.",
    fooled_by: "a record bus that differs from the hall mix",
    other_causes: "a recorder with too few tracks",
    question: "Which two tracks could carry the main mix?",
    exercise: "Route the main mix to two tracks, record a minute and listen, 5 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    if reading.channels.is_empty() {
        return Vec::new();
    }
    let n_open = u8::from(reading.main.is_none()) + u8::from(!reading.session.taps_stated);
    let detail = match (reading.main.is_some(), reading.session.taps_stated) {
        (true, true) => None,
        (true, false) => Some("Where on the desk the channels were recorded is a guess."),
        (false, true) => Some("The main mix is missing."),
        (false, false) => {
            Some("The main mix is missing, and where the channels were recorded is a guess.")
        }
    };
    vec![Observation {
        subject: Some("The recording"),
        detail: detail.map(Into::into),
        ..Observation::of_session(
            vec![Some(Fact::exact(f64::from(n_open)))],
            reading.session.duration_s,
        )
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, main_mix, only, session};
    use crate::reading::MainMix;
    use crate::session::Role;

    fn taps(main: Option<MainMix>, stated: bool) -> Reading {
        let mut reading = session(vec![channel(1, Role::Kick)]);
        reading.main = main;
        reading.session.taps_stated = stated;
        reading
    }

    #[test]
    fn fires_when_main_or_tap_are_not_known() {
        assert_eq!(only(&RULE, &taps(None, true)), Near, "no main mix");
        assert_eq!(only(&RULE, &taps(None, false)), Outside, "neither");
    }

    #[test]
    fn stays_quiet_when_both_are_known() {
        assert_eq!(only(&RULE, &taps(Some(main_mix()), true)), OnTarget, "both known");
    }

    #[test]
    fn is_not_fooled_by_a_guessed_tap() {
        assert_eq!(only(&RULE, &taps(Some(main_mix()), false)), Near, "a guess is not a statement");
    }
}
