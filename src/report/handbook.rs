//! The rules as documents: `deskside explain`, its list, and `docs/rules.md`.
//!
//! Takes rules, gives text. Never holds a text about a rule that the rule doesn't carry itself.

use std::fmt::{self, Display, Formatter, Write as _};

use super::look::Look;
use super::{glossary, number, text};
use crate::coach::{Combine, Ends, Limb, Need, Page, Reserved, Rule, Tier, Window};

/// A part of a rule's page: a heading and its paragraphs.
struct Part {
    title: &'static str,
    lines: Vec<String>,
}

/// One rule for the terminal.
pub fn explain(look: Look, rule: &Rule) -> String {
    let mut out = format!("{}\n{}\n", look.heading(rule.id), rule.title);
    out.push_str(&text::paragraph("", &standing(rule), look.width()));
    for part in parts(rule) {
        let _ = writeln!(out, "\n{}", look.heading(part.title));
        let mark = if part.lines.len() > 1 { "  - " } else { "  " };
        for line in part.lines {
            out.push_str(&text::paragraph(mark, &line, look.width()));
        }
    }
    let words = glossary::used_in(&out);
    if !words.is_empty() {
        let _ = writeln!(out, "\n{}", look.heading("Words"));
        for entry in words {
            out.push_str(&text::paragraph(
                &format!("  {}: ", entry.word),
                entry.meaning,
                look.width(),
            ));
        }
    }
    out
}

/// A rule that this version does not judge, for the terminal.
pub fn explain_reserved(look: Look, reserved: &Reserved) -> String {
    let mut out = format!("{}\n{}\n", look.heading(reserved.id), reserved.title);
    let why = format!("Not judged in this version: {}.", reserved.needs);
    out.push_str(&text::paragraph("", &why, look.width()));
    out
}

/// All rules, one a line, in the order of fixing; those that this version does not judge come last.
pub fn list(look: Look, rules: &[&Rule], reserved: &[Reserved]) -> String {
    let mut table = look.table();
    table.set_header(["rule", "what it finds", "group"]);
    for rule in rules {
        table.add_row([rule.id, rule.title, rule.group.word()]);
    }
    for rule in reserved {
        table.add_row([rule.id, rule.title, "not judged in this version"]);
    }
    format!("{}\n", table.trim_fmt())
}

/// All rules as Markdown: `docs/rules.md`.
pub struct Handbook<'a>(pub &'a [&'a Rule]);

impl Display for Handbook<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let mut group = None;
        for rule in self.0 {
            if group != Some(rule.group) {
                writeln!(f, "\n## {}", capital(rule.group.word()))?;
                group = Some(rule.group);
            }
            writeln!(f, "\n### {}\n\n{}. {}", rule.id, rule.title, standing(rule))?;
            for part in parts(rule) {
                match part.lines.as_slice() {
                    [only] => writeln!(f, "\n**{}.** {}", part.title, text::markdown(only))?,
                    lines => {
                        writeln!(f, "\n**{}**\n", part.title)?;
                        for line in lines {
                            writeln!(f, "- {}", text::markdown(line))?;
                        }
                    }
                }
            }
        }
        Ok(())
    }
}

/// Where the rule stands, and who may see what it finds.
fn standing(rule: &Rule) -> String {
    let page = match rule.page {
        Page::Trainee => "for the operator in training",
        Page::Mentor => "for the mentor",
        Page::Lead => "for the team lead",
    };
    let trust = match rule.tier {
        Tier::A | Tier::B => format!(
            "shown from a confidence of {}",
            number::bare(rule.tier.floor(), crate::unit::Unit::Ratio)
        ),
        Tier::C => "an attempt, shown to the mentor only".to_owned(),
    };
    format!(
        "Group: {}. {}, {trust}. How audible: {} of 4. How easy to change: {} of 3 (1 is easiest).",
        rule.group.word(),
        capital(page),
        rule.effect,
        rule.ease
    )
}

fn parts(rule: &Rule) -> Vec<Part> {
    let part = |title, lines| Part { title, lines };
    let one = |line: &str| vec![sentence(line)];
    let mut parts = vec![
        part("What is measured", one(rule.measures)),
        part("Targets", targets(rule)),
        part("What has to be recorded", needs(rule.needs)),
        part("When it stays silent", one(rule.guard_text)),
        part("Why it matters", one(rule.why)),
        part(
            "What to try, in this order",
            rule.advice.iter().map(|step| step.replace("{db}", "the suggested amount")).collect(),
        ),
        part(
            "What stands behind this",
            rule.backing.iter().map(|source| sentence(source.text())).collect(),
        ),
        part("What else it could be", one(rule.other_causes)),
        part("What could fool it", one(rule.fooled_by)),
        part("A question to ask", one(rule.question)),
        part("An exercise", one(rule.exercise)),
    ];
    if !rule.explains.is_empty() {
        parts.push(part("Findings that it explains", vec![rule.explains.join(", ")]));
    }
    if let Some(safety) = rule.safety {
        parts.push(part("Safety", one(safety)));
    }
    parts.retain(|part| part.lines.iter().any(|line| !line.is_empty()));
    parts
}

/// The targets of a rule, one line each, and how several numbers become one outcome.
fn targets(rule: &Rule) -> Vec<String> {
    let lines = rule
        .limbs
        .iter()
        .flat_map(|limb| limb.windows.iter().map(move |window| target(limb, window)));
    let mut lines: Vec<String> = lines.collect();
    if rule.limbs.len() > 1 {
        lines.push(match rule.combine {
            Combine::Worst => "The worst of these numbers counts.".to_owned(),
            Combine::All => {
                "All of these numbers have to be off target; the mildest counts.".to_owned()
            }
        });
    }
    lines
}

fn target(limb: &Limb, window: &Window) -> String {
    let roles: Vec<String> = window.roles.iter().map(|role| role.word().to_owned()).collect();
    let mut whom = text::listed(&roles);
    if !window.variant.is_empty() {
        let _ = write!(whom, "{}{}", if whom.is_empty() { "" } else { ", " }, window.variant);
    }
    let whom = if whom.is_empty() { String::new() } else { format!(" for {whom}") };
    let range = |ends: Ends| number::range(ends.low, ends.high, limb.unit);
    let near =
        if window.amber == Ends::default() { "beyond it".to_owned() } else { range(window.amber) };
    format!(
        "{}{whom}: on target {}; near {near} ({}).",
        capital(limb.name),
        range(window.green),
        window.source.text()
    )
}

fn needs(needs: &[Need]) -> Vec<String> {
    let word = |need: &Need| match need {
        Need::Raw => "Channels, taken right after the preamplifier.",
        Need::Processed => "Channels, taken after their processing.",
        Need::Main => "The main mix.",
        Need::Quiet => "A stretch in which nobody plays or speaks.",
        Need::Between => {
            "A channel before and after its processing, or the channels with the main mix."
        }
        Need::Plot => "The stage plot in `session.toml`.",
    };
    needs.iter().map(|need| word(need).to_owned()).collect()
}

/// A clause or sentence as a sentence.
fn sentence(clause: &str) -> String {
    let clause = capital(clause);
    if clause.is_empty() || clause.ends_with(['.', '?', '!']) {
        clause
    } else {
        format!("{clause}.")
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
