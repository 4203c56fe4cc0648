//! The lead's part: hall, gear and repairs, levels, how complete the recording is, and a topic for training.

use maud::{Markup, html};

use super::{Page, card};
use crate::reading::Reading;
use crate::report::{number, phrase, text};
use crate::session::RoleSource;
use crate::unit::Unit;

/// Lengths of channels that differ by more are worth a look, in seconds.
const LENGTH_SPREAD_S: f64 = 1.0;

/// The part.
pub(super) fn part(page: &Page<'_>) -> Markup {
    let Page { reading, advice, marks } = *page;
    html! {
        section {
            h3 { "Hall, gear and repairs" }
            @if advice.lead.is_empty() { p { "Nothing was found." } }
            div.fulls { @for note in &advice.lead { (card::mentor(note, reading, marks, "lead")) } }
        }
        section { h3 { "Level" } (level(reading)) }
        section { h3 { "How complete the recording is" } (complete(reading)) }
        section {
            h3 { "Topic for training" }
            @match advice.notes.first() {
                Some(note) => p { "From this one evening: " b { (note.title) } ". " (note.rule.exercise) }
                None => p { "This evening suggests none." }
            }
            p { (text::counted(advice.notes.len(), "note")) " went to the operator; what they say is between operator and mentor." }
        }
        section {
            h3 { "Before money is spent" }
            p { "The hall first, then where the loudspeakers stand, then the rest; microphones late. Moving or hanging loudspeakers and work on mains is for competent persons; local rules apply." }
        }
    }
}

fn level(reading: &Reading) -> Markup {
    html! {
        @if let Some(main) = &reading.main {
            ul {
                li { "Main mix: loudness " (number::fact(&main.integrated_lufs, Unit::Lufs)) ", true peak " (number::fact(&main.true_peak_dbtp, Unit::Dbtp)) "." }
                @for song in &main.songs {
                    li { (number::clock(song.span.start_s)) " " (song.title) ": " (number::fact(&song.loudness_lufs, Unit::Lufs)) }
                }
            }
        } @else { p { "The main mix was not recorded." } }
        p { "These are levels inside the desk. No level in the hall can be told without a calibrated microphone." }
    }
}

fn complete(reading: &Reading) -> Markup {
    let session = &reading.session;
    let nameless: Vec<String> = reading
        .channels
        .iter()
        .filter(|channel| channel.role_source == RoleSource::None)
        .map(|channel| channel.id.clone())
        .collect();
    html! {
        ul {
            li { "Recorded: " (phrase::recorded(reading)) "." }
            li { (if session.mixed_rates { "The files have different sample rates." } else { "All files have one sample rate." }) }
            @if session.length_spread_s > LENGTH_SPREAD_S {
                li { "Lengths of channels differ by " (number::length(session.length_spread_s)) "." }
            }
            @if !nameless.is_empty() {
                li { "What these carry could not be told: " (phrase::channels(reading, &nameless)) ". Names on the desk help." }
            }
            @if !session.taps_stated { li { "Where the recording was taken is inferred; one line in session.toml makes it sure." } }
            @for warning in &reading.warnings { li { (text::plain(warning)) } }
        }
    }
}
