//! The targets in force, and what a team's own file changes.
//!
//! Takes the rules and the team's targets, gives text for a terminal or a pipe.

use std::fmt::Write as _;

use super::look::Look;
use super::{number, text};
use crate::coach::{Aims, Ends, Limb, Rule, Source, Window};
use crate::session::Role;
use crate::unit::Unit;

/// All targets, rule by rule: those of the team stand below the ones that they replace.
pub fn shown(look: Look, rules: &[&Rule], aims: &Aims) -> String {
    let in_force = rules.iter().filter(|rule| !aims.is_off(rule.id));
    let blocks: Vec<String> = in_force.map(|rule| block(look, rule, aims, true)).collect();
    format!("{}\n{}", blocks.join("\n"), marks(aims))
}

/// What a team's file changes; a sentence where it changes nothing.
pub fn changed(look: Look, rules: &[&Rule], aims: &Aims) -> String {
    let is_changed =
        |rule: &&&Rule| rule.limbs.iter().any(|limb| !aims.replaced(rule, limb).is_empty());
    let blocks: Vec<String> =
        rules.iter().filter(is_changed).map(|rule| block(look, rule, aims, false)).collect();
    let marks = marks(aims);
    if blocks.is_empty() && marks.is_empty() {
        return "The file changes nothing.\n".to_owned();
    }
    format!("{}{marks}", blocks.join("\n"))
}

/// One rule: its targets as a table, their sources below it.
fn block(look: Look, rule: &Rule, aims: &Aims, with_given: bool) -> String {
    let mut table = look.table();
    table.set_header(["number", "for", "on target", "near"]);
    let mut sources: Vec<String> = Vec::new();
    for limb in rule.limbs {
        let given = limb.windows.iter().filter(|_| with_given).map(|window| (None, *window));
        for (role, window) in given.chain(aims.replaced(rule, limb)) {
            table.add_row(row(limb, role, &window));
            let source = source(window.source);
            if !sources.contains(&source) {
                sources.push(source);
            }
        }
    }
    let head = look.heading(&format!("{}: {}", rule.id, rule.title));
    let from = text::paragraph("source: ", &sources.join("; "), look.width());
    format!("{head}\n{}\n{from}", table.trim_fmt())
}

fn row(limb: &Limb, role: Option<Role>, window: &Window) -> [String; 4] {
    [
        limb.name.to_owned(),
        who(role, window),
        range(window.green, limb.unit),
        if window.amber == Ends::default() {
            "all beyond".to_owned()
        } else {
            range(window.amber, limb.unit)
        },
    ]
}

fn source(source: Source) -> String {
    match source {
        Source::Team => "the team's own file".to_owned(),
        Source::CommonPractice | Source::Published(_) | Source::Computed(_) => {
            source.text().to_owned()
        }
    }
}

fn who(role: Option<Role>, window: &Window) -> String {
    let roles: Vec<&str> = match role {
        Some(role) => vec![role.word()],
        None => window.roles.iter().map(|role| role.word()).collect(),
    };
    let roles = if roles.is_empty() { "all".to_owned() } else { roles.join(", ") };
    if window.variant.is_empty() { roles } else { format!("{roles} ({})", window.variant) }
}

fn range(ends: Ends, unit: Unit) -> String {
    number::range(ends.low, ends.high, unit)
}

fn marks(aims: &Aims) -> String {
    let mut out = String::new();
    for mark in aims.marks() {
        let _ = writeln!(out, "{mark}");
    }
    out
}
