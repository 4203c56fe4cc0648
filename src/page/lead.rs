//! The lead's part: hall, gear and repairs, levels, how complete the recording is, and a topic for training.

use maud::{Markup, html};

use super::{Page, card, tables};
use crate::coach::Note;
use crate::reading::{DecayFrom, OctaveDecay, Reading, Room};
use crate::report::{lead, number};
use crate::unit::Unit;

/// The part.
pub(super) fn part(page: &Page<'_>) -> Markup {
    let Page { reading, advice, marks } = *page;
    html! {
        section {
            h3 { "Hall, gear and repairs" }
            @if advice.lead.is_empty() { p { "Nothing was found." } }
            div.fulls { @for note in &advice.lead { div { (card::mentor(note, reading, marks, "lead")) (card::drawing(note, reading)) } } }
        }
        (further(reading, &advice.notes))
    }
}

/// What stands below the findings.
pub(super) fn further(reading: &Reading, notes: &[Note]) -> Markup {
    let (title, topic) = lead::topic(notes);
    html! {
        section {
            h3 { "Level" }
            (list(&lead::levels(reading)))
            (list(&lead::levels_in_the_hall(reading)))
            p { (lead::what_levels_are(reading)) }
        }
        @if let Some(room) = &reading.room { section { h3 { "The hall" } (list(&lead::hall(room))) (octaves(room)) } }
        section { h3 { "How complete the recording is" } (list(&lead::complete(reading))) }
        section {
            h3 { "Topic for training" }
            p { @if let Some(title) = title { "From this one evening: " b { (title) } ". " } (topic) }
            p { (lead::told(notes)) }
        }
        section { h3 { "Before money is spent" } p { (lead::SPENDING) } }
    }
}

/// Headings of the table of octaves.
const OCTAVES: [&str; 8] = [
    "Octave",
    "Early decay, s",
    "T20, s",
    "T30, s",
    "From stops, s",
    "C50, dB",
    "C80, dB",
    "D50, share of 1",
];

/// Decay octave by octave.
fn octaves(room: &Room) -> Markup {
    let label = match room.decay_from {
        DecayFrom::Sweep => "From the sweep, by octaves",
        DecayFrom::Burst => "Behind the clap, by octaves",
        DecayFrom::Stops | DecayFrom::Nothing => "From sudden stops of the music, by octaves",
    };
    let is_told = |one: &OctaveDecay| {
        [&one.t20_s, &one.early_s, &one.stops_s].iter().any(|fact| fact.value().is_some())
    };
    let rows = html! {
        @for octave in &room.octaves {
            tr {
                th scope="row" { (number::tick(octave.octave_hz, Unit::Hz)) }
                @for time_s in [&octave.early_s, &octave.t20_s, &octave.t30_s, &octave.stops_s] {
                    td { (number::cell(time_s, Unit::Seconds)) }
                }
                td { (number::cell(&octave.c50_db, Unit::Db)) }
                td { (number::cell(&octave.c80_db, Unit::Db)) }
                td { (number::cell(&octave.d50_share, Unit::Ratio)) }
            }
        }
    };
    html! {
        @if room.octaves.iter().any(is_told) {
            h4 { (label) }
            (tables::wide(label, &OCTAVES, &rows))
        }
    }
}

fn list(items: &[String]) -> Markup {
    html! { ul { @for item in items { li { (item) } } } }
}
