//! Which channels of two evenings are the same, and what makes the evenings hard to compare.
//!
//! A channel is the same where its name is, and can be compared where it carries the same and was recorded at the same place of the
//! desk. Numbers on the desk tell nothing: a patch moves.

use serde::Serialize;

use super::finding::{Course, Finding};
use crate::coach::{Stored, label};
use crate::reading::{Channel, Reading};
use crate::session::is_same_name;

/// More names than these are counted.
const MOST_NAMED: usize = 6;

/// One of two evenings.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Evening {
    /// Its name.
    pub name: String,
    /// Its date, `YYYY-MM-DD`, if known.
    pub date: Option<String>,
}

impl Evening {
    pub(super) fn of(reading: &Reading) -> Self {
        Self { name: reading.session.name.clone(), date: reading.session.date.clone() }
    }
}

/// One channel on two evenings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pair<'a> {
    /// What it is called.
    pub(super) label: &'a str,
    pub(super) then: &'a Channel,
    pub(super) now: &'a Channel,
}

/// The channel of a reading that is called so.
fn find<'a>(reading: &'a Reading, name: &str) -> Option<&'a Channel> {
    reading.channels.iter().find(|channel| is_same_name(label(channel, reading), name))
}

/// Channels that can be compared, in desk order of the later evening.
pub(super) fn pairs<'a>(then: &'a Reading, now: &'a Reading) -> Vec<Pair<'a>> {
    let same = |channel: &'a Channel| {
        let label = label(channel, now);
        let pair = Pair { label, then: find(then, label)?, now: channel };
        (pair.then.role == channel.role && pair.then.tap == channel.tap).then_some(pair)
    };
    now.channels.iter().filter_map(same).collect()
}

/// What makes two evenings hard to compare, a sentence each.
pub(super) fn differences(then: &Stored, now: &Stored, findings: &[Finding]) -> Vec<String> {
    let mut said = Vec::new();
    said.extend(of_program(then, now));
    said.extend(of_session(&then.reading, &now.reading));
    said.extend(of_lineup(&then.reading, &now.reading));
    let mut rules: Vec<&str> = findings
        .iter()
        .filter(|finding| finding.course == Course::RuleChanged)
        .map(|finding| finding.rule)
        .collect();
    rules.dedup();
    if !rules.is_empty() {
        said.push(format!(
            "These rules or their targets changed in between: {}.",
            rules.join(", ")
        ));
    }
    said
}

fn of_program(then: &Stored, now: &Stored) -> Option<String> {
    let name =
        |stored: &Stored| stored.program.clone().unwrap_or_else(|| "an early version".to_owned());
    (then.program != now.program).then(|| {
        format!(
            "The reviews were written by two versions of the program: {}, then {}.",
            name(then),
            name(now)
        )
    })
}

fn of_session(then: &Reading, now: &Reading) -> Vec<String> {
    let (then, now) = (&then.session, &now.session);
    let mut said = Vec::new();
    let mut stated = |what: &str, then: Option<&str>, now: Option<&str>| {
        if then != now {
            let word = |one: Option<&str>| one.unwrap_or("not stated").to_owned();
            said.push(format!("{what}: {}, then {}.", word(then), word(now)));
        }
    };
    stated("Two places", then.place.as_deref(), now.place.as_deref());
    let kind = |is_rehearsal: bool| Some(if is_rehearsal { "rehearsal" } else { "performance" });
    stated("Two kinds of evening", kind(then.is_rehearsal), kind(now.is_rehearsal));
    stated("Two styles", Some(&then.style), Some(&now.style));
    stated("The main mix fed something else", Some(&then.main_bus), Some(&now.main_bus));
    if then.operator != now.operator {
        said.push(
            "Another hand was at the desk: what differs says nothing about people.".to_owned(),
        );
    }
    if let (Some(before), Some(after)) = (&then.date, &now.date)
        && before > after
    {
        said.push(
            "The first review is of the later evening: old and new may be the wrong way round."
                .to_owned(),
        );
    }
    said
}

fn of_lineup(then: &Reading, now: &Reading) -> Vec<String> {
    let mut said = Vec::new();
    let missing = |from: &Reading, to: &Reading| -> Vec<String> {
        let names = from.channels.iter().filter(|channel| find(to, label(channel, from)).is_none());
        names.map(|channel| channel.name.clone()).collect()
    };
    for (what, names) in
        [("Only in the first", missing(then, now)), ("Only in the second", missing(now, then))]
    {
        if !names.is_empty() {
            said.push(format!("{what}: {}.", counted(&names)));
        }
    }
    let both =
        now.channels.iter().filter_map(|channel| Some((find(then, label(channel, now))?, channel)));
    for (before, after) in both {
        if before.role != after.role {
            said.push(format!(
                "{} was taken as {}, then as {}: its numbers are not compared.",
                after.name,
                before.role.word(),
                after.role.word()
            ));
        } else if before.tap != after.tap {
            said.push(format!(
                "{} was recorded at another place of the desk ({}, then {}): its numbers are not compared.",
                after.name,
                before.tap.word(),
                after.tap.word()
            ));
        }
    }
    if then.mix.is_some() != now.mix.is_some() {
        said.push("Only one of the two could read back what was done with the mix.".to_owned());
    }
    said
}

/// Some names, the rest counted.
fn counted(names: &[String]) -> String {
    match names.len() {
        ..=MOST_NAMED => names.join(", "),
        n_names => {
            format!("{} and {} more", names[..MOST_NAMED - 1].join(", "), n_names + 1 - MOST_NAMED)
        }
    }
}
