//! The lead's part: hall, gear and repairs, levels, how complete the recording is, and a topic for training.

use maud::{Markup, html};

use super::{Page, card};
use crate::coach::Note;
use crate::reading::{DecayFrom, Reading, Room};
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

/// Decay behind a clap, octave by octave.
fn octaves(room: &Room) -> Markup {
    html! {
        @if matches!(room.decay_from, DecayFrom::Burst | DecayFrom::Sweep) {
            div.wide {
                table {
                    caption { (if room.decay_from == DecayFrom::Burst { "Behind the clap, by octaves" } else { "From the sweep, by octaves" }) }
                    thead { tr { th scope="col" { "Octave" } th scope="col" { "Early decay, s" } th scope="col" { "T20, s" } th scope="col" { "T30, s" } th scope="col" { "C50, dB" } th scope="col" { "C80, dB" } th scope="col" { "D50, share of 1" } } }
                    tbody {
                        @for octave in &room.octaves {
                            tr {
                                th scope="row" { (number::tick(octave.octave_hz, Unit::Hz)) }
                                td { (number::cell(&octave.early_s, Unit::Seconds)) }
                                td { (number::cell(&octave.t20_s, Unit::Seconds)) }
                                td { (number::cell(&octave.t30_s, Unit::Seconds)) }
                                td { (number::cell(&octave.c50_db, Unit::Db)) }
                                td { (number::cell(&octave.c80_db, Unit::Db)) }
                                td { (number::cell(&octave.d50_share, Unit::Ratio)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn list(items: &[String]) -> Markup {
    html! { ul { @for item in items { li { (item) } } } }
}
