//! The targets in force, and what a team's own file changes.
//!
//! Takes the rules and the team's targets, gives text for a terminal or a pipe.

use std::fmt::Write as _;

use super::look::Look;
use super::number;
use crate::coach::{Aims, Ends, Limb, Rule, Source, Window};
use crate::session::Role;
use crate::unit::Unit;

/// All targets: those of the team stand below the ones that they replace.
pub fn shown(look: Look, rules: &[&Rule], aims: &Aims) -> String {
    let mut table = look.table();
    table.set_header(["rule", "number", "for", "on target", "near", "source"]);
    for rule in rules.iter().filter(|rule| !aims.is_off(rule.id)) {
        for limb in rule.limbs {
            for window in limb.windows {
                table.add_row(row(rule, limb, None, window));
            }
            for (role, window) in aims.replaced(rule, limb) {
                table.add_row(row(rule, limb, role, &window));
            }
        }
    }
    format!("{}\n{}", table.trim_fmt(), marks(aims))
}

/// What a team's file changes; a sentence where it changes nothing.
pub fn changed(look: Look, rules: &[&Rule], aims: &Aims) -> String {
    let mut table = look.table();
    table.set_header(["rule", "number", "for", "on target", "near", "source"]);
    for rule in rules {
        for limb in rule.limbs {
            for (role, window) in aims.replaced(rule, limb) {
                table.add_row(row(rule, limb, role, &window));
            }
        }
    }
    let marks = marks(aims);
    match (table.is_empty(), marks.is_empty()) {
        (true, true) => "The file changes nothing.\n".to_owned(),
        (true, false) => marks,
        (false, _) => format!("{}\n{marks}", table.trim_fmt()),
    }
}

fn row(rule: &Rule, limb: &Limb, role: Option<Role>, window: &Window) -> [String; 6] {
    let source = match window.source {
        Source::Team => "team".to_owned(),
        Source::CommonPractice => "common practice".to_owned(),
        Source::Published(text) => format!("published: {text}"),
        Source::Computed(text) => format!("computed: {text}"),
    };
    [
        rule.id.to_owned(),
        limb.name.to_owned(),
        who(role, window),
        range(window.green, limb.unit),
        near(window, limb.unit),
        source,
    ]
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

/// The near range; where it has no end, everything off target is near at most.
fn near(window: &Window, unit: Unit) -> String {
    if window.amber == Ends::default() {
        "all beyond".to_owned()
    } else {
        range(window.amber, unit)
    }
}

fn marks(aims: &Aims) -> String {
    let mut out = String::new();
    for mark in aims.marks() {
        let _ = writeln!(out, "{mark}");
    }
    out
}
