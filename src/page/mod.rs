//! The page that people read and listen to: `review.html`, one file that needs nothing but the passages of sound beside it.
//!
//! Takes the reading, the advice and the marks of an earlier round, gives HTML text. The operator's part stands first, the mentor's
//! behind it, the lead's behind that. What a mentor hands on, sheets and cards, is a page of its own. Never asks a
//! network for anything, and never lets a name from outside become markup.

mod areas;
mod card;
mod comparison;
pub mod habits;
mod lead;
mod mentor;
mod operator;
mod picture;
mod sheet;
mod tables;

pub use comparison::comparison;
pub use sheet::{feedback, leads, line_check};

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::coach::{Advice, Marks};
use crate::reading::Reading;
use crate::report::sheet::{FOOT, pieces};
use crate::report::{phrase, text};

const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("script.js");

/// What the page may load: its own style and script, and sound beside it. Nothing else, from nowhere.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; \
    media-src 'self' file:; img-src data:; base-uri 'none'; form-action 'none'";

/// What the page is made from.
#[derive(Clone, Copy, Debug)]
pub struct Page<'a> {
    /// Every fact.
    pub reading: &'a Reading,
    /// What was made of them.
    pub advice: &'a Advice,
    /// What was marked before.
    pub marks: &'a Marks,
}

/// The whole page.
pub fn page(page: &Page<'_>) -> String {
    let session = &page.reading.session;
    let name = text::plain(&session.name);
    let known_as = [session.date.as_deref().unwrap_or_default(), &name].join(" ");
    finished(&html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("{name} – review")))
            body data-session=(known_as.trim()) {
                a.skip href="#operator" { "To the notes" }
                (picture::hatch())
                (top(page.reading, &name))
                main {
                    section #operator.part aria-label="For the operator" { (operator::part(page)) }
                    (behind("mentor", "For the mentor", "causes, questions, what to listen to together, every finding", &mentor::part(page)))
                    (behind("lead", "For the team lead", "hall, gear, the recording itself", &lead::part(page)))
                }
                (foot())
                script #marks type="application/json" { (PreEscaped(closed_in(&page.marks.to_json()))) }
                script #pieces type="application/json" { (PreEscaped(closed_in(&sheet_pieces(page)))) }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    })
}

/// What every page has in its head.
fn head(title: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta http-equiv="Content-Security-Policy" content=(POLICY);
            meta name="referrer" content="no-referrer";
            meta name="color-scheme" content="light dark";
            link rel="icon" href="data:,";
            title { (title) }
            style { (PreEscaped(STYLE)) }
        }
    }
}

/// The text of a page. Names and titles stand in many places: what acts on a screen is taken out of all of them at once.
fn finished(document: &Markup) -> String {
    document.0.lines().map(text::plain).collect::<Vec<String>>().join("\n")
}

/// What the sheet is put together from in the browser.
fn sheet_pieces(page: &Page<'_>) -> String {
    let Page { reading, advice, .. } = *page;
    let strength = advice.strengths.first().map(|strength| strength.sentence.as_str());
    let pieces = pieces(reading, &advice.safety_lines, strength, &advice.notes);
    serde_json::to_string(&pieces).unwrap_or_default()
}

/// Title, what was recorded, and the way to the parts.
fn top(reading: &Reading, name: &str) -> Markup {
    html! {
        header {
            p.kind { "Review of a " (if reading.session.is_rehearsal { "rehearsal" } else { "performance" }) }
            h1 { (name) }
            p.meta { (phrase::headed(reading)) }
            p.meta { "Recorded: " (phrase::recorded(reading)) "." }
            nav aria-label="Parts of this page" {
                a href="#operator" { "Operator" }
                a href="#mentor" { "Mentor" }
                a href="#lead" { "Team lead" }
            }
        }
    }
}

/// A part that opens on demand.
fn behind(id: &str, title: &str, what: &str, content: &Markup) -> Markup {
    html! {
        section.part.behind aria-label=(title) {
            details id=(id) {
                summary { h2 { (title) } span.what { (what) } }
                div.inside {
                    (content)
                    p.tools { button type="button" data-print=(id) { "Print this part" } }
                }
            }
        }
    }
}

fn foot() -> Markup {
    html! {
        footer {
            p {
                (FOOT) " Voices are personal data: pass this folder on with care."
            }
        }
    }
}

/// JSON as text inside a script element, which nothing in it can end.
fn closed_in(json: &str) -> String {
    json.replace('<', "\\u003c")
}
