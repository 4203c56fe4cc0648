//! The operator's part: one side of paper. What worked, up to three things to listen to and try, one to practise.

use maud::{Markup, html};

use super::{Page, card, picture};
use crate::coach::{Advice, SafetyLine};
use crate::reading::Reading;
use crate::report::{glossary, phrase, text};

/// The part.
pub(super) fn part(page: &Page<'_>) -> Markup {
    let Page { reading, advice, .. } = *page;
    html! {
        (safety(&advice.safety_lines, reading))
        @for strength in &advice.strengths {
            section.well { h2 { "Worked well" } p { (text::plain(&strength.sentence)) } }
        }
        section {
            h2 { "Listen and try" }
            @if advice.notes.is_empty() {
                p.none { "No note today. What could not be judged is listed below." }
            }
            ol.cards { @for (at, note) in advice.notes.iter().enumerate() { (card::operator(at + 1, note, reading)) } }
        }
        @if let Some(focus) = &advice.focus {
            section.focus {
                h2 { "Focus for next time" }
                p { (focus.exercise) }
                p.noticed { "Noticed by: " (text::plain(&focus.noticed).trim_end_matches('.')) "." }
                @if focus.is_kept { p.noticed { (phrase::KEPT) } }
            }
        }
        @if let Some(strip) = picture::evening(reading, &advice.notes) {
            section.glance { h2 { "The evening at a glance" } (strip) }
        }
        section.rest {
            h2 { "Not judged tonight" }
            p { (not_judged(page)) }
        }
        (words(&said(advice)))
        p.tools { button type="button" data-print="operator" { "Print this side" } }
    }
}

/// Safety wording, above everything.
pub(super) fn safety(lines: &[SafetyLine], reading: &Reading) -> Markup {
    html! {
        @if !lines.is_empty() {
            section.safety {
                h2 { "Safety first" }
                @for line in lines {
                    @let who = phrase::channels(reading, &line.channels);
                    p { @if !who.is_empty() { b { (who) ". " } } (line.text) }
                }
            }
        }
    }
}

/// One line about what is left open; the mentor's part has the reasons.
fn not_judged(page: &Page<'_>) -> String {
    let advice = page.advice;
    let mut rules: Vec<&str> = advice.not_judged.iter().flat_map(|one| one.rules.clone()).collect();
    rules.sort_unstable();
    rules.dedup();
    let judged =
        |rule: &&&str| advice.judgements.iter().any(|one| one.rule.id == **rule && !one.is_open());
    let n_whole = rules.iter().filter(|rule| !judged(rule)).count();
    let n_partly = rules.len() - n_whole;
    let hidden = match advice.hidden.len() {
        0 => String::new(),
        n => format!(" Not shown, as on purpose or not ours: {}.", text::counted(n, "finding")),
    };
    format!(
        "{} could not be judged at all, {n_partly} on some channels only; the mentor's part says why.{hidden}",
        text::counted(n_whole, "question"),
    )
}

/// The words of the trade in a text, in plain words.
pub(super) fn words(said: &str) -> Markup {
    let used = glossary::used_in(said);
    html! {
        @if !used.is_empty() {
            section.words-explained {
                h2 { "Words" }
                dl.glossary { @for entry in used { div { dt { (entry.word) } dd { (entry.meaning) } } } }
            }
        }
    }
}

/// Everything that this part says.
fn said(advice: &Advice) -> String {
    let mut said: Vec<&str> = Vec::new();
    said.extend(advice.safety_lines.iter().map(|line| line.text));
    said.extend(advice.strengths.iter().map(|strength| strength.sentence.as_str()));
    for note in &advice.notes {
        said.extend([note.title, &note.sentence, note.why]);
        said.extend(note.advice.first().map(String::as_str));
        said.extend(note.excerpts.iter().filter_map(|excerpt| excerpt.change.as_deref()));
    }
    said.extend(advice.focus.iter().flat_map(|focus| [focus.exercise, &focus.noticed]));
    said.join("\n")
}
