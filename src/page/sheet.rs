//! What a mentor hands on, as pages for paper and screen: the feedback sheet, the lead's page, the card for the next line check.
//!
//! Takes what is in a sheet, gives HTML text. One side of paper each for a usual evening. Holds no script, and no sound but what the
//! notes of the sheet name.

use maud::{DOCTYPE, Markup, html};

use super::{card, finished, head, lead, operator, picture};
use crate::coach::{LineCard, Note, Sheet, Step, Stored, Strip};
use crate::reading::Reading;
use crate::report::sheet::{FOOT, FROM_REVIEW, LINE_CHECK, NO_STRENGTH, gain, looks};
use crate::report::{phrase, text};

/// The mentor's feedback sheet.
pub fn feedback(sheet: &Sheet<'_>) -> String {
    let reading = &sheet.stored.reading;
    let step = sheet.step();
    let strength = sheet.strength();
    page(
        "Feedback sheet",
        reading,
        &html! {
            (operator::safety(&sheet.stored.safety_lines, reading))
            section.well {
                h2 { "Worked well" }
                @match strength { Some(sentence) => p { (text::plain(sentence)) }, None => { p.quiet { (NO_STRENGTH) } (lines()) } }
            }
            section {
                h2 { "Listen and try" }
                @if sheet.notes.is_empty() { p.none { "No note today." } }
                ol.cards {
                    @for (at, prepared) in sheet.notes.iter().enumerate() {
                        (card::commented(at + 1, prepared.note, prepared.comment, reading))
                    }
                }
            }
            section.write {
                h2 { "From the mentor" }
                @if sheet.words.is_empty() { (lines()) }
                @for paragraph in &sheet.words { p { (text::plain(paragraph)) } }
            }
            @if let Some(step) = &step { (next(step)) }
            (operator::words(&said(sheet, step.as_ref())))
        },
    )
}

fn next(step: &Step) -> Markup {
    html! {
        section.focus {
            h2 { "Next step" }
            p { b { (step.title) } ": " (text::plain(&step.goal)) "." }
            dl {
                dt { "Exercise" } dd { (step.exercise) }
                dt { "To talk about" } dd { (step.question) }
            }
        }
    }
}

/// Lines to write on.
fn lines() -> Markup {
    html! { div.lines aria-hidden="true" {} }
}

/// Everything that a sheet says.
fn said(sheet: &Sheet<'_>, step: Option<&Step>) -> String {
    let mut said: Vec<&str> = sheet.words.iter().map(String::as_str).collect();
    said.extend(sheet.stored.safety_lines.iter().map(|line| line.text));
    said.extend(sheet.strength());
    for prepared in &sheet.notes {
        let note = prepared.note;
        said.extend([note.title, &note.sentence, note.why]);
        said.extend(note.advice.first().map(String::as_str));
        said.extend(prepared.comment);
        said.extend(note.excerpts.iter().filter_map(|excerpt| excerpt.change.as_deref()));
    }
    said.extend(step.iter().flat_map(|step| [step.goal.as_str(), step.exercise, step.question]));
    said.join("\n")
}

/// The lead's page.
pub fn leads(stored: &Stored) -> String {
    let reading = &stored.reading;
    page(
        "For the team lead",
        reading,
        &html! {
            (operator::safety(&stored.safety_lines, reading))
            section {
                h2 { "Hall, gear and repairs" }
                @if stored.lead.is_empty() { p { "Nothing was found." } }
                div.fulls { @for note in &stored.lead { (repair(note, reading)) } }
            }
            div.inside { (lead::further(reading, &stored.notes)) }
        },
    )
}

fn repair(note: &Note, reading: &Reading) -> Markup {
    html! {
        article.full {
            h3 { (note.title) }
            p.heard { (text::plain(&note.sentence)) }
            (card::drawing(note, reading))
            p { b { "Try" } }
            ol { @for step in &note.advice { li { (text::plain(step)) } } }
            p.sure { "Could be fooled by: " (note.rule.fooled_by) ". How sure: " (note.sure) }
        }
    }
}

/// Headings of the card.
const HEADER: [&str; 8] =
    ["Heard", "Channel", "Carries", "Gain", "High-pass", "Pad", "Battery", "Look at"];

/// The card for the next line check.
pub fn line_check(stored: &Stored, line_card: &LineCard<'_>) -> String {
    let reading = &stored.reading;
    page(
        "Line check",
        reading,
        &html! {
            section { ol.order { @for line in LINE_CHECK { li { (line) } } } }
            section {
                div.wide tabindex="0" role="region" aria-label="Inputs in desk order" {
                    table.line-check {
                        thead { tr { @for title in HEADER { th scope="col" { (title) } } } }
                        tbody { @for strip in &line_card.strips { (row(strip)) } }
                    }
                }
                p.quiet { (FROM_REVIEW) }
            }
        },
    )
}

fn row(strip: &Strip<'_>) -> Markup {
    let check = |is_due: bool| html! { @if is_due { b { "check" } } };
    html! {
        tr {
            td { span.box aria-hidden="true" {} }
            th scope="row" { (phrase::named(strip.channel, 24)) }
            td { (strip.channel.role.word()) }
            td.n { b { (gain(strip)) } }
            td { (check(strip.checks_high_pass)) }
            td { (check(strip.checks_pad)) }
            td { span.box aria-hidden="true" {} }
            td { (looks(strip)) }
        }
    }
}

/// A page with its head and foot.
fn page(kind: &str, reading: &Reading, content: &Markup) -> String {
    let name = text::plain(&reading.session.name);
    finished(&html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("{name} – {}", text::lowered(kind))))
            body.sheet {
                (picture::hatch())
                header {
                    p.kind { (kind) }
                    h1 { (name) }
                    p.meta { (phrase::headed(reading)) }
                }
                main.part { (content) }
                footer { p { (FOOT) } }
            }
        }
    })
}
