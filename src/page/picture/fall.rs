//! How the sound of a hall falls behind a clap, with the time that is recommended for speech.

use maud::html;

use super::Picture;
use super::plot::{Across, percent, pixels, stepped, ticks};
use crate::reading::{Reading, Room};
use crate::report::number;
use crate::unit::Unit;

/// What is drawn: down to here, in dB, and this long.
const LOW_DB: f64 = -60.0;
const LONGEST_S: f64 = 2.0;

/// Heights, in pixels.
const TOP: f64 = 24.0;
const FOOT: f64 = 138.0;

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 14.0;
const RIGHT: f64 = 97.0;

/// The fall behind the clap of the hall microphone.
pub(super) fn fall(reading: &Reading) -> Option<Picture> {
    let room = reading.room.as_ref()?;
    let decay_s = room.decay_s.value()?;
    let across = Across::new(0.0, LONGEST_S, LEFT, RIGHT);
    let down = |db: f64| FOOT - (db.max(LOW_DB) - LOW_DB) / -LOW_DB * (FOOT - TOP);
    let points: Vec<(f64, f64)> = stepped(&room.fall_db, Room::FALL_STEP_S)
        .take_while(|point| point.0 <= LONGEST_S)
        .collect();
    if points.len() < 2 {
        return None;
    }
    // A line that falls by 60 dB in its time, as far as the picture goes.
    let end = |time_s: f64| {
        let end_s = time_s.min(LONGEST_S);
        (end_s, LOW_DB * end_s / time_s)
    };
    let found = end(decay_s);
    let recommended = room.recommended_decay_s.value();
    let seconds = |time_s: f64| number::with_unit(time_s, Unit::Seconds);
    let wanted = recommended.map_or_else(String::new, |recommended_s| {
        format!(" Recommended for speech in a hall of this volume: {}.", seconds(recommended_s))
    });
    let label = format!("The hall takes {} to fall by 60 dB.{wanted}", seconds(decay_s));
    let svg = html! {
        svg.pic role="img" aria-label=(label) width="100%" height=(pixels(FOOT + 22.0)) {
            text.tick x="0" y="11" { "level behind the clap" }
            @for tick in ticks(LOW_DB, 0.0, 4.0) {
                line.grid x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(down(tick))) y2=(pixels(down(tick))) {}
                text.tick x=(percent(LEFT - 1.0)) y=(pixels(down(tick) + 4.0)) text-anchor="end" { (number::tick(tick, Unit::Db)) }
            }
            @for tick in ticks(0.0, LONGEST_S, 4.0) {
                text.tick x=(across.at(tick)) y=(pixels(FOOT + 16.0)) text-anchor="middle" { (number::tick(tick, Unit::Seconds)) }
            }
            @for pair in points.windows(2) {
                line.gain x1=(across.at(pair[0].0)) x2=(across.at(pair[1].0)) y1=(pixels(down(pair[0].1))) y2=(pixels(down(pair[1].1))) {}
            }
            line.rail x1=(across.at(0.0)) x2=(across.at(found.0)) y1=(pixels(down(0.0))) y2=(pixels(down(found.1))) {}
            @if let Some(wanted) = recommended.map(end) {
                line.border x1=(across.at(0.0)) x2=(across.at(wanted.0)) y1=(pixels(down(0.0))) y2=(pixels(down(wanted.1))) {}
            }
        }
    };
    let dashed =
        if recommended.is_some() { " Broken line: what is recommended for speech." } else { "" };
    let caption = format!(
        "How the sound falls behind the clap, 500 Hz and 1 kHz. Straight line: {} for 60 dB.{dashed}",
        seconds(decay_s)
    );
    Some(Picture { svg, caption })
}
