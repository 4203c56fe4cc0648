//! The review as text for a terminal or a pipe.
//!
//! Takes the reading, the advice and the names of the files that were written, gives text that keeps to the width of
//! its look. Never prints, and never says more than the advice holds.

use std::fmt::Write as _;

use comfy_table::{ColumnConstraint, Width};

use super::look::Look;
use super::{channels, glossary, number, phrase, spill, text};
use crate::coach::{Advice, Judgement, Note, Outcome};
use crate::reading::{Channel, Reading};

/// Columns of the labels beside a note.
const LABEL_WIDTH: u16 = 11;

/// The most further places that a note lists.
const MOST_PLACES: usize = 3;

/// How much a review shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// The chosen notes.
    Chosen,
    /// All findings, the channel table, and all that was not judged.
    All,
}

/// What a review in the terminal is made from.
#[derive(Clone, Copy, Debug)]
pub struct Page<'a> {
    /// Every fact.
    pub reading: &'a Reading,
    /// What was made of them.
    pub advice: &'a Advice,
    /// Files that were written, as the reader may call them.
    pub files: &'a [String],
    /// How much to show.
    pub extent: Extent,
    /// Whether to show what each microphone hears of the others.
    pub spill: bool,
}

/// The whole review.
pub fn review(look: Look, page: &Page<'_>) -> String {
    let mut out = String::new();
    head(&mut out, look, page.reading);
    safety(&mut out, look, page);
    strengths(&mut out, look, page.advice);
    notes(&mut out, look, page);
    focus(&mut out, look, page.advice);
    others(&mut out, look, page);
    if page.extent == Extent::All {
        section(&mut out, look, "Channels");
        out.push_str(&channels::measured(look, page.reading, &|channel| {
            rules_of(page.advice, channel)
        }));
    }
    if page.spill {
        section(&mut out, look, spill::TITLE);
        out.push_str(&spill::table(look, page.reading));
    }
    let used = glossary::used_in(&out);
    not_judged(&mut out, look, page);
    hidden(&mut out, look, page.advice);
    warnings(&mut out, look, page.reading);
    words(&mut out, look, &used);
    files(&mut out, look, page.files);
    out
}

fn section(out: &mut String, look: Look, title: &str) {
    let _ = writeln!(out, "\n{}", look.heading(title));
}

fn head(out: &mut String, look: Look, reading: &Reading) {
    let _ = writeln!(out, "{}", look.heading(&text::fitted(&reading.session.name, look.width())));
    out.push_str(&text::paragraph("", &phrase::headed(reading), look.width()));
    out.push_str(&text::paragraph(
        "",
        &format!("Recorded: {}.", phrase::recorded(reading)),
        look.width(),
    ));
    let course = phrase::course(reading);
    if !course.is_empty() {
        out.push_str(&text::paragraph("", &course, look.width()));
    }
}

fn safety(out: &mut String, look: Look, page: &Page<'_>) {
    if page.advice.safety_lines.is_empty() {
        return;
    }
    section(out, look, "Safety first");
    for line in &page.advice.safety_lines {
        let who = phrase::channels(page.reading, &line.channels);
        let who = if who.is_empty() { who } else { format!("{who}: ") };
        out.push_str(&text::paragraph(" ! ", &format!("{who}{}", line.text), look.width()));
    }
}

fn strengths(out: &mut String, look: Look, advice: &Advice) {
    if advice.strengths.is_empty() {
        return;
    }
    section(out, look, "Worked well");
    for strength in &advice.strengths {
        out.push_str(&text::paragraph(" + ", &strength.sentence, look.width()));
    }
}

fn notes(out: &mut String, look: Look, page: &Page<'_>) {
    section(out, look, "Listen and try");
    if page.advice.notes.is_empty() {
        out.push_str(&text::paragraph("   ", "No note today.", look.width()));
        return;
    }
    let mut table = look.table();
    for (at, note) in page.advice.notes.iter().enumerate() {
        if at > 0 {
            table.add_row([look.label(""), look.label("")]);
        }
        table.add_row([
            look.accent(&format!("{}", at + 1)),
            look.strong(&format!("{}  {}", note.title, phrase::severity(note.severity))),
        ]);
        for (label, content) in rows(page.reading, note) {
            table.add_row([look.label(label), comfy_table::Cell::new(content)]);
        }
    }
    if let Some(column) = table.column_mut(0) {
        column.set_constraint(ColumnConstraint::Absolute(Width::Fixed(LABEL_WIDTH)));
    }
    let _ = writeln!(out, "{}", table.trim_fmt());
}

/// What a note says, each with its label.
fn rows(reading: &Reading, note: &Note) -> Vec<(&'static str, String)> {
    let mut rows = vec![("heard", text::plain(&note.sentence))];
    if !note.channels.is_empty() {
        rows.push(("channel", phrase::channels(reading, &note.channels)));
    }
    let further: Vec<String> =
        note.evidence.iter().skip(1).take(MOST_PLACES).map(|span| number::stretch(*span)).collect();
    if !further.is_empty() {
        rows.push(("also at", text::listed(&further)));
    }
    if !note.excerpts.is_empty() {
        rows.push(("listen", phrase::excerpts(&note.excerpts)));
    }
    if let Some(recurred) = note.recurred {
        rows.push(("before", recurred.words()));
    }
    rows.push(("why", note.why.to_owned()));
    if let Some(first) = note.advice.first() {
        rows.push(("try first", text::plain(first)));
    }
    rows.push(("sure", format!("{}; more: deskside explain {}", note.sure, note.rule.id)));
    rows
}

fn focus(out: &mut String, look: Look, advice: &Advice) {
    let Some(focus) = &advice.focus else { return };
    section(out, look, "Focus for next time");
    out.push_str(&text::paragraph(" > ", focus.exercise, look.width()));
    let noticed = format!("Noticed by: {}.", text::plain(&focus.noticed).trim_end_matches('.'));
    out.push_str(&text::paragraph("   ", &noticed, look.width()));
    if focus.is_kept {
        out.push_str(&text::paragraph("   ", phrase::KEPT, look.width()));
    }
}

/// Findings beside the notes: those for the lead always, those for the mentor where all is asked for.
fn others(out: &mut String, look: Look, page: &Page<'_>) {
    if !page.advice.lead.is_empty() {
        section(out, look, "For the team lead: hall, gear, recording");
        for note in &page.advice.lead {
            out.push_str(&text::paragraph(" - ", &text::plain(&note.sentence), look.width()));
        }
    }
    if page.extent == Extent::Chosen {
        return;
    }
    if !page.advice.mentor.is_empty() {
        section(out, look, "For the mentor: other findings, in the order of fixing");
        for note in &page.advice.mentor {
            let held = note.held.map_or(String::new(), |held| format!("; {}", held.word()));
            let line = format!(
                "{} {} ({}{held})",
                phrase::severity(note.severity),
                text::plain(&note.sentence),
                note.rule.id
            );
            out.push_str(&text::paragraph(" - ", &line, look.width()));
        }
    }
    judgements(out, look, page);
}

/// Every judgement that has a number: each finding, and for each rule the channels on target.
fn judgements(out: &mut String, look: Look, page: &Page<'_>) {
    let judged = |judgement: &&Judgement| !matches!(judgement.outcome, Outcome::NotJudged(_));
    let judged: Vec<&Judgement> = page.advice.judgements.iter().filter(judged).collect();
    if judged.is_empty() {
        return;
    }
    section(out, look, "Everything that was judged");
    let mut table = look.table();
    table.set_header(["", "rule", "channel", "measured", "target"]);
    for of_rule in judged.chunk_by(|one, next| one.rule.id == next.rule.id) {
        let (met, missed): (Vec<&Judgement>, Vec<&Judgement>) =
            of_rule.iter().partition(|judgement| judgement.severity().is_none());
        for judgement in missed {
            table.add_row(judged_row(page.reading, judgement));
        }
        if let [only] = met.as_slice() {
            table.add_row(judged_row(page.reading, only));
        } else if let Some(first) = met.first() {
            let mut ids: Vec<String> = Vec::new();
            for id in met.iter().flat_map(|judgement| &judgement.channels) {
                if !ids.contains(id) {
                    ids.push(id.clone());
                }
            }
            let who = phrase::channels(page.reading, &ids);
            table.add_row([phrase::outcome(&first.outcome), first.rule.id, &who, "", ""]);
        }
    }
    let _ = writeln!(out, "{}", table.trim_fmt());
}

fn judged_row(reading: &Reading, judgement: &Judgement) -> [String; 5] {
    let measured = judgement.measured.first().map_or_else(String::new, |measured| {
        format!("{} {}", measured.name, number::fact(&measured.fact, measured.unit))
    });
    let target = judgement
        .target
        .as_ref()
        .map_or_else(String::new, |target| number::range(target.low, target.high, target.unit));
    [
        phrase::outcome(&judgement.outcome).to_owned(),
        judgement.rule.id.to_owned(),
        phrase::channels(reading, &judgement.channels),
        measured,
        target,
    ]
}

/// Ids of the rules whose findings name a channel.
fn rules_of(advice: &Advice, channel: &Channel) -> String {
    let found = advice.notes.iter().chain(&advice.mentor).chain(&advice.lead);
    let ids = found.filter(|note| note.channels.contains(&channel.id)).map(|note| note.rule.id);
    ids.collect::<Vec<_>>().join(", ")
}

/// What was not judged: reasons with a count, or with all rules where all is asked for.
fn not_judged(out: &mut String, look: Look, page: &Page<'_>) {
    /// The most reasons that a short review lists.
    const MOST: usize = 4;

    if page.advice.not_judged.is_empty() {
        return;
    }
    section(out, look, "Not judged");
    let all = page.extent == Extent::All;
    let n_shown = if all { usize::MAX } else { MOST };
    for entry in page.advice.not_judged.iter().take(n_shown) {
        let who = phrase::channels(page.reading, &entry.channels);
        let who = if who.is_empty() { who } else { format!(" ({who})") };
        let rules = if all || entry.rules.len() <= 2 {
            entry.rules.join(", ")
        } else {
            format!("{} and {} more", entry.rules[0], entry.rules.len() - 1)
        };
        let line = format!("{}{who}: {rules}", text::plain(&entry.reason));
        out.push_str(&text::paragraph(" - ", &line, look.width()));
    }
    let n_hidden = page.advice.not_judged.len().saturating_sub(n_shown);
    if n_hidden > 0 {
        let line = format!(
            "{} in review.json, or with --notes all",
            text::counted(n_hidden, "more reason")
        );
        out.push_str(&text::paragraph(" - ", &line, look.width()));
    }
}

/// How many findings marks keep away, and which rules they made less trusted.
fn hidden(out: &mut String, look: Look, advice: &Advice) {
    for sentence in phrase::marked(advice) {
        out.push_str(&text::paragraph(" - ", &sentence, look.width()));
    }
}

fn warnings(out: &mut String, look: Look, reading: &Reading) {
    if reading.warnings.is_empty() {
        return;
    }
    section(out, look, "About the recording");
    for warning in &reading.warnings {
        out.push_str(&text::paragraph(" - ", &text::plain(warning), look.width()));
    }
}

/// The words of the trade that the findings use, in plain words.
fn words(out: &mut String, look: Look, used: &[&glossary::Entry]) {
    if used.is_empty() {
        return;
    }
    section(out, look, "Words");
    for entry in used {
        let first = format!(" {}: ", entry.word);
        out.push_str(&text::paragraph(&first, entry.meaning, look.width()));
    }
}

fn files(out: &mut String, look: Look, files: &[String]) {
    if files.is_empty() {
        return;
    }
    section(out, look, "Written");
    for file in files {
        let _ = writeln!(out, "   {}", text::plain(file));
    }
}
