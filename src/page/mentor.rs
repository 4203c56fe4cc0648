//! The mentor's part: two sides of paper. Causes, what could fool the tool, what to listen to together, and everything else found.

use maud::{Markup, html};

use super::areas::Area;
use super::{Page, card, tables};
use crate::coach::Note;
use crate::report::{number, phrase, text};

/// Places to listen to together.
const MOST_PLACES: usize = 3;

/// The longest of them, in seconds.
const LONGEST_S: f64 = 40.0;

/// The part.
pub(super) fn part(page: &Page<'_>) -> Markup {
    let Page { reading, advice, marks } = *page;
    html! {
        section.together { h3 { "Listen together" } (listening(page)) }
        section {
            h3 { "The notes, with what stands behind them" }
            @if advice.notes.is_empty() { p { "No note passed the gate today." } }
            div.fulls { @for note in &advice.notes { (card::mentor(note, reading, marks, "note")) } }
        }
        section { h3 { "Whose is it" } (areas(page)) (requests(page)) }
        section.others {
            h3 { "All other findings, in the order of fixing" }
            @if advice.mentor.is_empty() { p { "None." } }
            @for note in &advice.mentor {
                details.finding {
                    summary { span.severity { (phrase::severity(note.severity)) } " " b { (note.title) } " " (phrase::channels(reading, &note.channels)) }
                    div.beside { (card::mentor(note, reading, marks, "other")) (card::drawing(note, reading)) }
                }
            }
        }
        (tables::balance(reading))
        (tables::mix(page))
        (tables::channels(page))
        (tables::starts(reading))
        (tables::between(reading))
        (tables::pressed(reading))
        (tables::rings(reading))
        (tables::spill(reading))
        section { h3 { "Not judged, and why" } (not_judged(page)) }
        section { h3 { "How well it could be measured" } (quality(page)) }
        section.write { h3 { "What we agreed, and when we look again" } div.lines aria-hidden="true" {} }
        section.save {
            h3 { "Marks" }
            p {
                "Marks stay in this browser until they are saved. Put the file " code { "marks.json" } " beside this page: the next review "
                "of this folder reads it, and " code { "--marks" } " takes it along to another evening. What is on purpose or not ours is "
                "not shown there any more."
            }
            p.tools { button type="button" #save { "Save marks" } " " span #saved role="status" {} }
        }
        section.save {
            h3 { "Feedback sheet" }
            p {
                "The operator's notes without those that are marked as not fitting, on purpose or not ours, with comments on those that fit, "
                "as Markdown. " code { "deskside sheet" } " does the same, takes other findings as well, and writes a page for paper."
            }
            label.own-words { "In own words" textarea #words rows="4" maxlength="4000" {} }
            p.tools { button type="button" #save-sheet { "Save sheet" } " " span #sheet-saved role="status" {} }
        }
    }
}

/// Three places in the order of the evening, with a question before the picture.
fn listening(page: &Page<'_>) -> Markup {
    let all = page.advice.notes.iter().chain(&page.advice.mentor);
    let mut places: Vec<(&Note, f64, f64)> = all
        .filter_map(|note| {
            let span = note.evidence.first()?;
            Some((note, span.start_s, span.end_s.min(span.start_s + LONGEST_S)))
        })
        .take(MOST_PLACES)
        .collect();
    places.sort_by(|one, other| one.1.total_cmp(&other.1));
    html! {
        @if places.is_empty() { p { "No place stands out." } }
        ol.places {
            @for (note, start_s, end_s) in places {
                li {
                    b { (number::clock(start_s)) " to " (number::clock(end_s)) } " "
                    span { "What do you hear? Then: " (note.rule.question) }
                    @if let Some(excerpt) = note.excerpts.first() {
                        audio controls preload="none" src=(excerpt.file) aria-label={ "Passage at " (number::clock(start_s)) } {}
                    }
                }
            }
        }
    }
}

/// Four boxes: what belongs to whom.
fn areas(page: &Page<'_>) -> Markup {
    let advice = page.advice;
    let all: Vec<&Note> = advice.notes.iter().chain(&advice.mentor).chain(&advice.lead).collect();
    html! {
        div.areas {
            @for area in Area::ALL {
                @let own: Vec<&&Note> = all.iter().filter(|note| Area::of(note) == area).collect();
                div {
                    h4 { (area.word()) }
                    @if own.is_empty() { p { "Nothing found." } }
                    ul { @for note in own { li { (note.title) " " span.who { (phrase::channels(page.reading, &note.channels)) } } } }
                }
            }
        }
    }
}

/// What to ask the players for: a request, never a report about a person.
fn requests(page: &Page<'_>) -> Markup {
    let all = page.advice.notes.iter().chain(&page.advice.mentor);
    let own: Vec<&Note> = all.filter(|note| Area::of(note) == Area::Band).collect();
    html! {
        @if !own.is_empty() {
            h4 { "Requests to the players, to be made kindly and by you" }
            ul { @for note in own { @if let Some(step) = note.advice.first() { li { (text::plain(step)) " " span.who { (phrase::channels(page.reading, &note.channels)) } } } } }
        }
    }
}

fn not_judged(page: &Page<'_>) -> Markup {
    let reading = page.reading;
    html! {
        details.finding {
            summary { (text::counted(page.advice.not_judged.len(), "reason")) ", those that keep most rules silent first" }
            ul.reasons {
                @for entry in &page.advice.not_judged {
                    @let who = phrase::channels(reading, &entry.channels);
                    li { (text::plain(&entry.reason)) @if !who.is_empty() { span.where { " (" (who) ")" } } ": " span.who { (entry.rules.join(", ")) } }
                }
            }
        }
        @if !page.advice.hidden.is_empty() {
            p { "Not shown because of marks:" }
            ul { @for hidden in &page.advice.hidden { li { (hidden.title) " " span.who { (phrase::channels(reading, &hidden.channels)) } ": " (hidden.why) } } }
        }
        @if !page.advice.demoted.is_empty() {
            p { "Shown with more care, as marks said too often that it does not fit: " (page.advice.demoted.join(", ")) "." }
        }
    }
}

fn quality(page: &Page<'_>) -> Markup {
    let reading = page.reading;
    let explained = reading.mix.as_ref().and_then(|mix| mix.explained_share.value());
    html! {
        ul {
            @match explained {
                Some(share) => li { "The channels explain " (number::percent(share)) " of the power of the main mix; below 60 % nothing is said about the mix." }
                None => li { "What was done with the mix could not be read back." }
            }
            @for warning in &reading.warnings { li { (text::plain(warning)) } }
        }
    }
}
