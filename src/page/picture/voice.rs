//! A voice against the band over a song: a stem for each second in which it sings.

use maud::{Markup, html};

use super::Picture;
use super::plot::{Across, percent, pixels};
use crate::coach::Note;
use crate::reading::{LeadMix, Reading, SongMix};
use crate::report::{number, phrase};
use crate::unit::Unit;

/// What is drawn of the scale, in LU: more or less than this is heard as the same.
const LOW_LU: f64 = -15.0;
const HIGH_LU: f64 = 9.0;

/// Where a voice that lies lower loses its words, in LU, if the note says nothing else.
const WORDS_LOST_LU: f64 = -4.0;

/// Heights, in pixels.
const TOP: f64 = 18.0;
const FOOT: f64 = 128.0;

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 13.0;
const RIGHT: f64 = 99.0;

/// The song of a note's first passage with the voice that it is about.
fn place<'a>(note: &Note, reading: &'a Reading) -> Option<(&'a SongMix, &'a LeadMix)> {
    let at = note.evidence.first()?;
    let songs = &reading.mix.as_ref()?.songs;
    let song = songs.iter().find(|song| song.span.shared(*at).is_some())?;
    let voices =
        |lead: &&LeadMix| note.channels.is_empty() || note.channels.contains(&lead.channel);
    let lead = song.leads.iter().find(voices).or_else(|| song.leads.first())?;
    Some((song, lead))
}

/// The voice of a note against the band.
pub(super) fn voice(note: &Note, reading: &Reading) -> Option<Picture> {
    let (song, lead) = place(note, reading)?;
    let first_s = song.span.start_s.ceil();
    let mut at_s = first_s;
    let mut stems = Vec::new();
    for level in &lead.over_rest_each_second_lu {
        // A window of three seconds stands at its middle.
        stems.extend(level.map(|level| (at_s + 1.5, level)));
        at_s += 1.0;
    }
    if stems.is_empty() {
        return None;
    }
    let border_lu = match note.target.unit {
        Unit::Lu => note.target.low.unwrap_or(WORDS_LOST_LU),
        _ => WORDS_LOST_LU,
    };
    let who = phrase::channels(reading, std::slice::from_ref(&lead.channel));
    let n_below = stems.iter().filter(|stem| stem.1 < border_lu).count();
    let label = format!(
        "{who} against the band in {}: {n_below} of {} seconds in which it sings lie below {}.",
        song.title,
        stems.len(),
        number::tick(border_lu, Unit::Lu),
    );
    let across = Across::new(song.span.start_s, song.span.end_s, LEFT, RIGHT);
    let svg = html! {
        svg.pic role="img" aria-label=(label) width="100%" height=(pixels(FOOT + 36.0)) {
            (levels(border_lu))
            @for stem in &stems { (drawn(across, *stem, border_lu)) }
            (super::lanes::clock(across, FOOT))
            @for span in note.evidence.iter().filter_map(|span| span.shared(song.span)) {
                line.passage x1=(across.at(span.start_s)) x2=(across.at(span.end_s)) y1=(pixels(FOOT + 28.0)) y2=(pixels(FOOT + 28.0)) {}
            }
        }
    };
    let caption = format!(
        "{}: one stroke a second while {who} sings. Up: louder than the band; down: softer. Heavy strokes with a head lie below \
         {}, where words get lost. The bar at the foot is the passage to listen to.",
        song.title,
        number::tick(border_lu, Unit::Lu),
    );
    Some(Picture { svg, caption })
}

fn y(level_lu: f64) -> f64 {
    let share = (level_lu.clamp(LOW_LU, HIGH_LU) - LOW_LU) / (HIGH_LU - LOW_LU);
    FOOT - share * (FOOT - TOP)
}

/// The line at which both are alike, the border, and the scale at the side.
fn levels(border_lu: f64) -> Markup {
    let side = |level_lu: f64| {
        let words = match level_lu {
            0.0.. => format!("+{}", number::tick(level_lu, Unit::Lu)),
            _ => number::tick(level_lu, Unit::Lu),
        };
        html! { text.tick x=(percent(LEFT - 1.0)) y=(pixels(y(level_lu) + 4.0)) text-anchor="end" { (words) } }
    };
    let alike = pixels(y(0.0));
    let border = pixels(y(border_lu));
    html! {
        text.tick x="0" y="11" { "voice over band" }
        (side(6.0)) (side(-6.0)) (side(-12.0))
        text.tick x=(percent(LEFT - 1.0)) y=(pixels(y(0.0) + 4.0)) text-anchor="end" { "0 LU" }
        line.rail x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(alike) y2=(alike) {}
        line.border x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(border) y2=(border) {}
    }
}

fn drawn(across: Across, (at_s, level_lu): (f64, f64), border_lu: f64) -> Markup {
    let x = across.at(at_s);
    let end = y(level_lu);
    html! {
        @if level_lu < border_lu {
            line.stem.off x1=(x) x2=(x) y1=(pixels(y(0.0))) y2=(pixels(end)) {}
            circle.off cx=(x) cy=(pixels(end)) r="2" {}
        } @else {
            line.stem.on x1=(x) x2=(x) y1=(pixels(y(0.0))) y2=(pixels(end)) {}
        }
    }
}
