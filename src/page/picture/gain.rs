//! What the operator's hand did: gain of a channel in the mix over time.

use maud::html;

use super::Picture;
use super::plot::{Across, percent, pixels, ticks};
use crate::coach::Note;
use crate::reading::{Reading, Segment};
use crate::report::{number, phrase};
use crate::unit::{Span, Unit};

/// Heights, in pixels.
const TOP: f64 = 18.0;
const FOOT: f64 = 118.0;

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 15.0;
const RIGHT: f64 = 99.0;

/// Less swing than this is drawn as flat, in dB.
const LEAST_DB: f64 = 6.0;

/// The gain of the first channel of a note through the segment of its first passage.
pub(super) fn gain(note: &Note, reading: &Reading) -> Option<Picture> {
    let id = note.channels.first()?;
    let line = reading.mix.as_ref()?.channel(id)?;
    let at = note.evidence.first()?;
    let holds = |segment: &&Segment| segment.span.shared(*at).is_some();
    let span = reading.segments.iter().filter(holds).map(|segment| segment.span).max_by(longer)?;
    let course = course(&line.gain_db, span);
    let all = course.iter().flatten().map(|point| point.1);
    let least = all.clone().reduce(f64::min)?;
    let most = all.reduce(f64::max)?;
    let room = (LEAST_DB - (most - least)).max(0.0) / 2.0 + 1.0;
    let (low, high) = (least - room, most + room);
    let down = move |db: f64| FOOT - (db - low) / (high - low) * (FOOT - TOP);
    let across = Across::new(span.start_s, span.end_s, LEFT, RIGHT);
    let who = phrase::channels(reading, &note.channels[..1]);
    let label = format!(
        "Gain of {who} in the mix from {}: between {} and {}.",
        number::stretch(span),
        number::whole_with_unit(least, Unit::Db),
        number::whole_with_unit(most, Unit::Db)
    );
    let svg = html! {
        svg.pic role="img" aria-label=(label) width="100%" height=(pixels(FOOT + 36.0)) {
            text.tick x="0" y="11" { "gain in the mix" }
            @for tick in ticks(low, high, 4.0) {
                line.grid x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(down(tick))) y2=(pixels(down(tick))) {}
                text.tick x=(percent(LEFT - 1.0)) y=(pixels(down(tick) + 4.0)) text-anchor="end" { (number::tick(tick, Unit::Db)) }
            }
            @for pair in steps(&course) {
                line.gain x1=(across.at(pair[0].0)) x2=(across.at(pair[1].0)) y1=(pixels(down(pair[0].1))) y2=(pixels(down(pair[1].1))) {}
            }
            (super::lanes::clock(across, FOOT))
            @for one in note.evidence.iter().filter_map(|one| one.shared(span)) {
                line.passage x1=(across.at(one.start_s)) x2=(across.at(one.end_s)) y1=(pixels(FOOT + 28.0)) y2=(pixels(FOOT + 28.0)) {}
            }
        }
    };
    let caption = format!(
        "Gain of {who} in the mix, second by second. The bar at the foot is the passage to listen to."
    );
    Some(Picture { svg, caption })
}

fn longer(one: &Span, other: &Span) -> std::cmp::Ordering {
    one.length_s().total_cmp(&other.length_s())
}

/// The seconds of a course that lie in a stretch, each with its time.
fn course(gain_db: &[Option<f64>], span: Span) -> Vec<Option<(f64, f64)>> {
    let mut at_s = 0.0;
    let mut found = Vec::new();
    for gain in gain_db {
        if span.holds(at_s) {
            found.push(gain.map(|gain_db| (at_s, gain_db)));
        }
        at_s += 1.0;
    }
    found
}

/// Two seconds in a row that are both known.
fn steps(course: &[Option<(f64, f64)>]) -> Vec<[(f64, f64); 2]> {
    course.windows(2).filter_map(|pair| Some([pair[0]?, pair[1]?])).collect()
}
