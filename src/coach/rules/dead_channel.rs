//! Named channel is silent.
//!
//! Looks at the top peak of channels that have a name. Never looks at spare inputs.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::{Role, RoleSource};
use crate::unit::{Fact, Unit, Unmeasured};

/// Nothing in a 24-bit file lies between silence and this, in dBFS (20 lg 2^-23).
const LEAST_DBFS: f64 = -138.5;

pub(super) const RULE: Rule = Rule {
    id: "dead-channel",
    title: "Named channel is silent",
    group: Group::Recording,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Top peak of a channel whose name says what it carries.",
    limbs: &[Limb {
        name: "top peak",
        unit: Unit::Dbfs,
        windows: &[Window::at_least(-50.0, -70.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "20 s of recording; named channels only; once.",
    absent: "no channel has a name",
    heard: "{who} {is} silent all the time, absent or not connected",
    why: "Something was not plugged, or muted before the recording.",
    advice: &[
        "Play each input alone for 3 s in the line check.",
        "Check patch and battery.",
        "Switch phantom power only with channel and sends closed, where the microphone or DI needs it; wait 5 s.",
    ],
    backing: &[Source::CommonPractice],
    shows: "List of silent channels.",
    fooled_by: "a player who was absent, or a spare input with an old name",
    other_causes: "a player who was absent",
    question: "Was this player there tonight?",
    exercise: "Run a line check of all inputs in desk order with the recorder on, 5 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let is_named = |channel: &&Channel| {
        matches!(channel.role_source, RoleSource::Stated | RoleSource::Name)
            && !matches!(channel.role, Role::Spare | Role::Unknown)
    };
    reading
        .channels
        .iter()
        .filter(is_named)
        .map(|channel| {
            let peak = match channel.top_peak_dbfs.reason() {
                Some(Unmeasured::Silent) => Fact::AtMost { at_most: LEAST_DBFS, confidence: 1.0 },
                _ => channel.top_peak_dbfs.clone(),
            };
            Observation {
                active_s: channel.duration_s,
                affected_s: channel.duration_s,
                confidence_cap: 1.0,
                ..Observation::of(channel, vec![Some(peak)])
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};

    fn quiet(role: Role, peak: Fact) -> Reading {
        let mut input = channel(15, role);
        input.top_peak_dbfs = peak;
        session(vec![input])
    }

    #[test]
    fn fires_when_a_named_channel_is_silent() {
        assert_eq!(only(&RULE, &quiet(Role::Strings, Fact::exact(-51.0))), Near, "under -50");
        assert_eq!(only(&RULE, &quiet(Role::Strings, Fact::exact(-71.0))), Outside, "under -70");
        let silent = Fact::missing(Unmeasured::Silent);
        assert_eq!(only(&RULE, &quiet(Role::Strings, silent)), Outside, "digital silence");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(
            only(&RULE, &quiet(Role::Strings, Fact::exact(-50.0))),
            OnTarget,
            "-50 is inside"
        );
    }

    #[test]
    fn is_not_fooled_by_a_spare_input() {
        let silent = Fact::missing(Unmeasured::Silent);
        assert!(judged(&RULE, &quiet(Role::Spare, silent)).is_empty(), "silence is fine there");
    }
}
