//! The lead's part: hall, gear and repairs, levels, how complete the recording is, and a topic for training.

use maud::{Markup, html};

use super::{Page, card};
use crate::reading::{DecayFrom, Reading, Room, SoundLevels};
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
            @for note in &advice.lead { div.beside { (card::mentor(note, reading, marks, "lead")) (card::drawing(note, reading)) } }
        }
        section { h3 { "Level" } (level(reading)) }
        @if let Some(room) = &reading.room { section { h3 { "The hall" } (hall(room)) } }
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
        @match reading.room.as_ref().and_then(|room| room.sound.as_ref()) {
            Some(sound) => (in_the_hall(sound)),
            None => p { "These are levels inside the desk. No level in the hall can be told without a calibrated microphone." },
        }
    }
}

/// Sound levels of the calibrated microphone, with what they are not.
fn in_the_hall(sound: &SoundLevels) -> Markup {
    let levels = [
        ("Average, A-weighted", &sound.laeq_db_spl),
        ("Loudest 15 minutes", &sound.laeq_15_min_db_spl),
        ("Loudest 30 minutes", &sound.laeq_30_min_db_spl),
        ("Highest level, A-weighted, F", &sound.lafmax_db_spl),
        ("Highest peak, C-weighted", &sound.lcpeak_db_spl),
        ("A day with this recording and nothing else loud (8 hours)", &sound.daily_exposure_db_spl),
    ];
    html! {
        h4 { "At the calibrated microphone in the hall" }
        ul {
            @for (name, level) in levels { li { (name) ": " (number::fact(level, Unit::Db)) } }
            @if let Some(limit) = &sound.limit {
                li { "Agreed: " (number::whole_with_unit(limit.limit_db_spl, Unit::Db)) " A-weighted over " (number::length(60.0 * limit.window_min)) "; loudest " (number::fact(&limit.loudest_db_spl, Unit::Db)) }
            }
        }
        p { "Levels re 20 µPa, 2 dB more or less at best, at the place of the microphone only. This is a reason to measure properly, no measurement for the record. Law and house rules of the place decide." }
    }
}

/// Decay, octave by octave, and words over noise.
fn hall(room: &Room) -> Markup {
    html! {
        ul {
            li { "Decay time of the middle: " (number::fact(&room.decay_s, Unit::Seconds)) "; recommended for speech: " (number::fact(&room.recommended_decay_s, Unit::Seconds)) }
            li { "Low notes over the middle: " (number::fact(&room.low_decay_ratio, Unit::Ratio)) }
            li { "Words over the noise of the hall, A-weighted: " (number::fact(&room.speech_over_noise_db, Unit::Db)) }
            @for song in &room.songs {
                li { (number::clock(song.span.start_s)) " " (song.title) ": C-weighted over A-weighted level " (number::fact(&song.c_minus_a_db, Unit::Db)) }
            }
        }
        @if room.decay_from == DecayFrom::Burst {
            div.wide {
                table {
                    caption { "Behind the clap, by octaves" }
                    thead { tr { th scope="col" { "Octave" } th scope="col" { "Early decay" } th scope="col" { "T20" } th scope="col" { "T30" } th scope="col" { "C50" } th scope="col" { "C80" } } }
                    tbody {
                        @for octave in &room.octaves {
                            tr {
                                th scope="row" { (number::tick(octave.octave_hz, Unit::Hz)) }
                                td { (number::cell(&octave.early_s, Unit::Seconds)) }
                                td { (number::cell(&octave.t20_s, Unit::Seconds)) }
                                td { (number::cell(&octave.t30_s, Unit::Seconds)) }
                                td { (number::cell(&octave.c50_db, Unit::Db)) }
                                td { (number::cell(&octave.c80_db, Unit::Db)) }
                            }
                        }
                    }
                }
            }
        }
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
