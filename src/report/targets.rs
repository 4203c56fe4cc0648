//! The targets in force, and what a team's own file changes.
//!
//! Takes the rules and the team's targets, gives text for a terminal or a pipe, and a team's file from what was learnt.

use std::fmt::Write as _;

use super::look::Look;
use super::{number, text};
use crate::coach::{Aims, Ends, Limb, Rule, Source, Window};
use crate::history::{Learnt, OwnWindow};
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
    table.set_header(["number", "for", "on target", "near", "from"]);
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

fn row(limb: &Limb, role: Option<Role>, window: &Window) -> [String; 5] {
    [
        limb.name.to_owned(),
        who(role, window),
        range(window.green, limb.unit),
        if window.amber == Ends::default() {
            "all beyond".to_owned()
        } else {
            range(window.amber, limb.unit)
        },
        basis(window.source),
    ]
}

/// What kind of source a target has.
fn basis(source: Source) -> String {
    match source {
        Source::Published(_) => "published".to_owned(),
        Source::Computed(_) => "computed".to_owned(),
        Source::CommonPractice => "common practice".to_owned(),
        Source::Team => "the team".to_owned(),
        Source::Nights(n_nights) => format!("the team, {n_nights} nights"),
    }
}

fn source(source: Source) -> String {
    match source {
        Source::Team => "the team's own file".to_owned(),
        Source::Nights(n_nights) => format!("the team's own file, from {n_nights} good nights"),
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

/// What was learnt from good nights, as a team's file.
pub fn learnt(learnt: &Learnt) -> String {
    let mut out = format!(
        "# The team's own windows, learnt from {}. Listening decides which nights are good.\n",
        text::counted(learnt.n_nights, "good night")
    );
    for (name, reason) in &learnt.left_out {
        let _ = writeln!(out, "# left out: {}: {reason}", text::plain(name));
    }
    for own in &learnt.windows {
        out.push_str(&entry(own));
    }
    out
}

/// One window as an entry of a team's file.
fn entry(own: &OwnWindow) -> String {
    let unit = own.limb.unit;
    let mut out =
        format!("\n[[target]] # middle of the nights {}\n", number::with_unit(own.middle, unit));
    if own.is_far {
        out.push_str(
            "# far beyond the general window: listen whether the team got used to a fault\n",
        );
    }
    let role = own.role.word().replace(' ', "-");
    let _ = writeln!(
        out,
        "rule = \"{}\"\nnumber = \"{}\"\nrole = \"{role}\"",
        own.rule.id, own.limb.name
    );
    let _ = writeln!(out, "nights = {}", own.n_nights);
    let ends = [
        ("amber_low", own.amber.low),
        ("green_low", own.green.low),
        ("green_high", own.green.high),
        ("amber_high", own.amber.high),
    ];
    for (key, end) in ends {
        if let Some(end) = end {
            let _ = writeln!(out, "{key} = {}", number::bare(end, unit));
        }
    }
    out
}
