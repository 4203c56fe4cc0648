//! Channel names say too little.
//!
//! Looks at channels whose role neither name nor sound told. Never guesses silently.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::Role;
use crate::unit::{Fact, Unit};

pub(super) const RULE: Rule = Rule {
    id: "name-unclear",
    title: "Channel names say too little",
    group: Group::Recording,
    tier: Tier::A,
    effect: 1,
    ease: 1,
    explains: &[],
    measures: "Share of channels whose role could not be told from name and sound.",
    limbs: &[Limb {
        name: "unclear names",
        unit: Unit::Percent,
        windows: &[Window::at_most(5.0, 25.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "All channels but spare ones.",
    absent: "no channel was recorded",
    heard: "{who} {is} hard to read: names say too little",
    why: "Unclear names cost the next volunteer time and hide notes here.",
    advice: &[
        "Label the desk once and save it as the start scene.",
        "Use one name a role: LV Lead, BV 1, Sn Top.",
    ],
    backing: &[Source::CommonPractice],
    shows: "List with the best guess and its evidence.",
    fooled_by: "local nicknames",
    other_causes: "a local nickname that the team can add to its file",
    question: "What is on these inputs?",
    exercise: "Name every input of the start scene in ten letters or fewer, 5 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let used: Vec<&Channel> =
        reading.channels.iter().filter(|channel| channel.role != Role::Spare).collect();
    if used.is_empty() {
        return Vec::new();
    }
    let unclear: Vec<String> = used
        .iter()
        .filter(|channel| channel.role == Role::Unknown)
        .map(|channel| channel.id.clone())
        .collect();
    let share = 100.0 * unclear.len() as f64 / used.len() as f64;
    vec![Observation {
        channels: unclear,
        subject: Some("The desk"),
        ..Observation::of_session(vec![Some(Fact::exact(share))], reading.session.duration_s)
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};

    fn desk(n_unclear: usize, n_all: usize) -> Reading {
        let role = |idx| if idx < n_unclear { Role::Unknown } else { Role::Keys };
        session((0..n_all).map(|idx| channel(idx + 1, role(idx))).collect())
    }

    #[test]
    fn fires_when_names_say_too_little() {
        assert_eq!(only(&RULE, &desk(2, 20)), Near, "10 %");
        assert_eq!(only(&RULE, &desk(6, 20)), Outside, "30 %");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &desk(1, 20)), OnTarget, "5 % is inside");
    }

    #[test]
    fn is_not_fooled_by_spare_inputs() {
        let mut reading = desk(0, 4);
        reading.channels.push(channel(9, Role::Spare));
        assert_eq!(only(&RULE, &reading), OnTarget, "a spare input needs no name");
    }
}
