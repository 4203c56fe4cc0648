//! Numbers behind changed findings, then and now, each against its target.

use serde::Serialize;

use super::finding::{Both, Course, Finding, both};
use crate::coach::{RULES, Rule, Stored, Target};
use crate::unit::{Fact, Unit};

/// More rows than these are read from the tables.
const MOST_ROWS: usize = 12;

/// One number on several channels.
#[derive(Clone, Debug, Serialize)]
pub struct Chart {
    /// Id of the rule.
    pub rule: &'static str,
    /// The fault in a few words.
    pub title: &'static str,
    /// What the number is called.
    pub number: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// The channels, those with a changed finding first.
    pub rows: Vec<Row>,
}

/// One channel.
#[derive(Clone, Debug, Serialize)]
pub struct Row {
    /// Its name, or names; empty for the whole session.
    pub name: String,
    /// The number then.
    pub then: Fact,
    /// The number now.
    pub now: Fact,
    /// The target now.
    pub target: Target,
}

/// A chart for each rule with a finding that both reviews could judge and that is new, gone, or has another number now.
pub(super) fn charts(then: &Stored, now: &Stored, findings: &[Finding]) -> Vec<Chart> {
    // A finding whose number stood still needs no picture.
    let is_told = |finding: &&Finding| match finding.course {
        Course::New | Course::Gone => true,
        Course::Stays => finding.then != finding.now,
        _ => false,
    };
    let told: Vec<&str> = findings.iter().filter(is_told).map(|finding| finding.rule).collect();
    let rules = RULES.iter().filter(|rule| told.contains(&rule.id));
    rules.filter_map(|rule| chart(rule, &both(rule.id, then, now), findings)).collect()
}

fn chart(rule: &'static Rule, all: &[Both<'_>], findings: &[Finding]) -> Option<Chart> {
    let limb = rule.limbs.first()?;
    let is_found = |row: &Row| {
        let mut own = findings.iter().filter(|finding| finding.rule == rule.id);
        own.any(|finding| finding.channels.join(" and ") == row.name)
    };
    let mut rows: Vec<Row> = all.iter().filter_map(|both| row(both, limb.name)).collect();
    rows.sort_by_key(|row| !is_found(row));
    rows.truncate(MOST_ROWS);
    (!rows.is_empty()).then_some(Chart {
        rule: rule.id,
        title: rule.title,
        number: limb.name,
        unit: limb.unit,
        rows,
    })
}

fn row(both: &Both<'_>, number: &str) -> Option<Row> {
    let (then, now) = (both.then.as_ref()?, both.now.as_ref()?);
    let fact = |measured: &Option<crate::coach::Measured>| {
        let measured = measured.as_ref().filter(|measured| measured.name == number)?;
        measured.fact.reason().is_none().then(|| measured.fact.clone())
    };
    Some(Row {
        name: now.channels.join(" and "),
        then: fact(&then.judged.measured)?,
        now: fact(&now.judged.measured)?,
        target: now.judged.target?,
    })
}
