//! A note as a card: the operator's, and the longer one of the mentor.

use maud::{Markup, html};

use super::picture;
use crate::coach::{Marks, Need, Note, Verdict, sure};
use crate::reading::{Processing, Reading};
use crate::report::{number, phrase, text};

/// More places than these are not listened to.
const MOST_PLACES: usize = 4;

/// The operator's card: what is heard, why it matters, the first step, how sure, and what to listen to.
pub(super) fn operator(at: usize, note: &Note, reading: &Reading) -> Markup {
    commented(at, note, None, reading)
}

/// The same with the mentor's comment.
pub(super) fn commented(
    at: usize,
    note: &Note,
    comment: Option<&str>,
    reading: &Reading,
) -> Markup {
    html! {
        li.card {
            article aria-labelledby={ "note-" (at) } {
                div.words {
                    h3 id={ "note-" (at) } { span.number { (at) } (note.title) }
                    p.heard { (text::plain(&note.sentence)) }
                    @if let Some(recurred) = note.recurred { p.before { b { "Before. " } "This is " (recurred.words()) "." } }
                    p { b { "Why it matters. " } (note.why) }
                    @if let Some(step) = note.advice.first() { p.step { b { "Try first. " } (text::plain(step)) } }
                    @if let Some(comment) = comment { p.comment-said { b { "From the mentor. " } (text::plain(comment)) } }
                    p.sure { "How sure: " (note.sure) }
                }
                (drawing(note, reading))
                (listen(note, reading))
            }
        }
    }
}

/// The picture of a note.
pub(super) fn drawing(note: &Note, reading: &Reading) -> Markup {
    html! {
        @if let Some(found) = picture::picture(note, reading) {
            figure { (found.svg) figcaption { (found.caption) } }
        }
    }
}

/// Passages to play where there are some, else the places in the recording.
pub(super) fn listen(note: &Note, reading: &Reading) -> Markup {
    let places: Vec<String> =
        note.evidence.iter().take(MOST_PLACES).map(|span| number::stretch(*span)).collect();
    html! {
        @if !note.excerpts.is_empty() {
            div.listen {
                @for excerpt in &note.excerpts {
                    @let what = phrase::excerpt(excerpt);
                    div {
                        span.label { b { (if excerpt.change.is_some() { "Changed" } else { "As it was" }) } " " (number::stretch(excerpt.span)) @if excerpt.change.is_some() { ", " (what) } }
                        audio controls preload="none" src=(excerpt.file) aria-label={ (note.title) ": " (what) ", " (number::stretch(excerpt.span)) } {}
                    }
                }
            }
        } @else if !places.is_empty() {
            p.listen-at { b { "Listen at " } (text::listed(&places)) (channels(note, reading)) "." }
        }
    }
}

fn channels(note: &Note, reading: &Reading) -> String {
    let who = phrase::channels(reading, &note.channels);
    if who.is_empty() { who } else { format!(", {who}") }
}

/// All that a note holds, for the mentor.
pub(super) fn mentor(note: &Note, reading: &Reading, marks: &Marks, place: &str) -> Markup {
    let rule = note.rule;
    html! {
        article.full {
            h4 { (note.title) " " span.severity { (phrase::severity(note.severity)) } }
            p.heard { (text::plain(&note.sentence)) }
            dl {
                dt { "Measured" }
                dd {
                    @for measured in note.measured.iter().take(MOST_PLACES) { (phrase::measured(reading, measured)) "; " }
                    "target " (phrase::target(&note.target))
                }
                @if let Some(recurred) = note.recurred { dt { "Before" } dd { (recurred.words()) } }
                dt { "Why" } dd { (note.why) }
                dt { "Try" } dd { ol { @for step in &note.advice { li { (text::plain(step)) } } } }
                dt { "Could also be" } dd { (rule.other_causes) }
                dt { "Could be fooled by" } dd { (rule.fooled_by) }
                dt { "How sure" }
                dd { (sure(note.confidence)) ", " (number::percent(note.confidence)) @if let Some(tap) = taps(note, reading) { "; from " (tap) } @if let Some(held) = note.held { "; kept from the operator: " (held.word()) } }
                dt { "Ask" } dd { (rule.question) }
                dt { "Exercise" } dd { (rule.exercise) }
                @if !note.folds.is_empty() {
                    dt { "Explains" }
                    dd { @for fold in &note.folds { p { (text::plain(&fold.sentence)) } } }
                }
            }
            (listen(note, reading))
            (form(note, reading, marks, place))
        }
    }
}

/// What notes on the mix rest on.
const READ_BACK: &str = "the mix as it was read back";

/// What a note rests on: the mix as it was read back, or recordings, with the place in the desk where they were taken.
fn taps(note: &Note, reading: &Reading) -> Option<String> {
    if reading.mix.is_some() && note.rule.needs.contains(&Need::Main) {
        return Some(READ_BACK.to_owned());
    }
    if note.rule.needs.contains(&Need::Plot) {
        return Some("the stage plot".to_owned());
    }
    if note.rule.needs.contains(&Need::Between) {
        let is_told = |one: &Processing| one.loud_reduction_db.reason().is_none();
        let by_taps = note.channels.iter().filter_map(|id| reading.processing(id)).any(is_told);
        let from =
            if by_taps { "the recordings before and behind its processing" } else { READ_BACK };
        return Some(from.to_owned());
    }
    let mut words: Vec<String> = Vec::new();
    for channel in note.channels.iter().filter_map(|id| reading.channel(id)) {
        let word = format!("{} recording", channel.tap.word());
        if !words.contains(&word) {
            words.push(word);
        }
    }
    (!words.is_empty()).then(|| text::listed(&words))
}

/// What the team says of a note.
pub(super) fn form(note: &Note, reading: &Reading, marks: &Marks, place: &str) -> Markup {
    let names = note.names(reading);
    let mark = marks.find(note.rule.id, &names);
    let group = format!("mark-{place}-{}", note.rule.id);
    let listed = serde_json::to_string(&names).unwrap_or_default();
    html! {
        fieldset.marks data-rule=(note.rule.id) data-channels=(listed) {
            legend { "Mark: " (note.title) }
            @for verdict in Verdict::ALL {
                label {
                    input type="radio" name=(group) value=(verdict.id()) checked[mark.is_some_and(|mark| mark.mark == verdict)];
                    " " (verdict.word())
                }
            }
            label.comment { "Comment " input type="text" name={ (group) "-comment" } value=(mark.map_or("", |mark| &mark.comment)) maxlength="400"; }
        }
    }
}
