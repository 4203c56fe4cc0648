//! How far a compressor turns a channel down, step by step, against what is common practice for a voice.

use maud::html;

use super::Picture;
use super::plot::{Across, percent, pixels, stepped, ticks};
use crate::coach::Note;
use crate::reading::{Processing, Reading};
use crate::report::{number, phrase};
use crate::unit::Unit;

/// More than this presses a voice, in dB (common practice).
const MOST_DB: f64 = 9.0;

/// Least that the scale holds, in dB.
const LEAST_SCALE_DB: f64 = 12.0;

/// Heights, in pixels.
const TOP: f64 = 24.0;
const FOOT: f64 = 124.0;

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 13.0;
const RIGHT: f64 = 99.0;

/// Gain reduction of the first channel of a note, from its two taps.
pub(super) fn pressed(note: &Note, reading: &Reading) -> Option<Picture> {
    let reduction_db = &reading.processing(note.channels.first()?)?.reduction_db;
    let most_db = reduction_db.iter().copied().reduce(f64::max)?;
    #[expect(clippy::cast_precision_loss, reason = "a few hundred steps")]
    let length_s = reduction_db.len() as f64 * Processing::REDUCTION_STEP_S;
    let scale_db = most_db.max(LEAST_SCALE_DB);
    let across = Across::new(0.0, length_s, LEFT, RIGHT);
    let down = |db: f64| TOP + db.max(0.0) / scale_db * (FOOT - TOP);
    let who = phrase::channels(reading, &note.channels[..1]);
    let label = format!(
        "Gain reduction of {who} over {}: {} at most; more than {} presses a voice.",
        number::length(length_s),
        number::with_unit(most_db, Unit::Db),
        number::tick(MOST_DB, Unit::Db)
    );
    let svg = html! {
        svg.pic role="img" aria-label=(label) width="100%" height=(pixels(FOOT + 24.0)) {
            text.tick x="0" y="11" { "turned down by" }
            @for tick in ticks(0.0, scale_db, 4.0) {
                line.grid x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(down(tick))) y2=(pixels(down(tick))) {}
                text.tick x=(percent(LEFT - 1.0)) y=(pixels(down(tick) + 4.0)) text-anchor="end" { (number::tick(tick, Unit::Db)) }
            }
            @for step in stepped(reduction_db, Processing::REDUCTION_STEP_S) {
                line class=(if step.1 > MOST_DB { "stem off" } else { "stem on" }) x1=(across.at(step.0)) x2=(across.at(step.0)) y1=(pixels(TOP)) y2=(pixels(down(step.1))) {}
            }
            line.border x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(down(MOST_DB))) y2=(pixels(down(MOST_DB))) {}
            @for at_s in across.moments() {
                text.tick x=(across.at(at_s)) y=(pixels(FOOT + 16.0)) text-anchor="middle" { (number::tick(at_s, Unit::Seconds)) }
            }
        }
    };
    let caption = format!(
        "How far {who} is turned down between its two recordings, every half second of the loudest minute. Heavy strokes pass the \
         broken line at {}, beyond which a voice is pressed.",
        number::tick(MOST_DB, Unit::Db)
    );
    Some(Picture { svg, caption })
}
