//! When a source sounded and when its channel was open, one above the other.

use maud::{Markup, html};

use super::Picture;
use super::plot::{Across, percent, pixels};
use crate::coach::Note;
use crate::reading::{Channel, MixChannel, Reading, Segment};
use crate::report::{number, phrase};
use crate::unit::spans::{both, total_s, without};
use crate::unit::{Span, Unit};

/// Panels of one picture at most: more are read from the list of places.
const MOST_PANELS: usize = 2;

/// What is shown before and after a moment, in seconds.
const AROUND_S: f64 = 4.0;

/// Steps of a lane of the whole evening: finer ones are not seen.
const N_STEPS: f64 = 500.0;

/// Where lanes begin and end, in hundredths of the width.
const LEFT: f64 = 15.0;
const RIGHT: f64 = 99.0;

/// Heights, in pixels.
const PANEL: f64 = 98.0;
const LANE: f64 = 15.0;

/// Columns of a name above its lanes, and beside one.
const NAME_WIDTH: usize = 24;
const SHORT_WIDTH: usize = 9;

/// Which stretches of a lane are picked out.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Picked {
    /// The source sounds and the channel is closed.
    Closed,
    /// The channel is open and the source rests.
    Idle,
}

/// A channel and a stretch of time.
struct Panel<'a> {
    channel: &'a Channel,
    line: &'a MixChannel,
    span: Span,
}

/// Channels that were closed while their source sounded.
pub(super) fn closed(note: &Note, reading: &Reading) -> Option<Picture> {
    let around = |span: Span| {
        let start_s = (span.start_s - AROUND_S).max(0.0);
        Span::new(start_s, (span.end_s + AROUND_S).min(reading.session.duration_s))
    };
    let panels = panels(note, reading, around);
    let caption = "Above: when the source sounds. Below: when its channel is open in the mix. What is hatched is lost: it \
        sounds while the channel is still closed.";
    draw(&panels, Picked::Closed, caption)
}

/// Channels that stood open while their source rested.
pub(super) fn idle(note: &Note, reading: &Reading) -> Option<Picture> {
    let whole = |span: Span| {
        let holds =
            |segment: &&Segment| segment.span.shared(span).is_some_and(|one| one.length_s() > 1.0);
        reading.segments.iter().find(holds).map_or(span, |segment| segment.span)
    };
    let panels = panels(note, reading, whole);
    let caption = "Above: when the source sounds. Below: when its channel is open in the mix. What is hatched is open for \
        nothing: it adds spill and brings feedback nearer.";
    draw(&panels, Picked::Idle, caption)
}

/// The channels of a note, each with the first passage that is its own.
fn panels<'a>(note: &Note, reading: &'a Reading, of: impl Fn(Span) -> Span) -> Vec<Panel<'a>> {
    let Some(mix) = &reading.mix else { return Vec::new() };
    let mut found: Vec<Panel<'a>> = Vec::new();
    for id in &note.channels {
        let Some((channel, line)) = reading.channel(id).zip(mix.channel(id)) else { continue };
        let late = |span: &&Span| {
            let missed = without(&channel.active, &line.on);
            let idle = without(&line.on, &channel.active);
            let is_new = found.iter().all(|other| other.span.shared(**span).is_none());
            is_new && [missed, idle].iter().any(|one| !both(one, &[**span]).is_empty())
        };
        let own = note.evidence.iter().find(late).or_else(|| note.evidence.first());
        if let Some(span) = own {
            found.push(Panel { channel, line, span: of(*span) });
        }
        if found.len() == MOST_PANELS {
            break;
        }
    }
    found
}

fn draw(panels: &[Panel<'_>], picked: Picked, caption: &str) -> Option<Picture> {
    if panels.is_empty() {
        return None;
    }
    let label: Vec<String> = panels.iter().map(|panel| told(panel, picked)).collect();
    #[expect(clippy::cast_precision_loss, reason = "panels are few")]
    let height = PANEL * panels.len() as f64;
    let svg = html! {
        svg.pic role="img" aria-label=(label.join(" ")) width="100%" height=(pixels(height)) {
            @for (at, panel) in panels.iter().enumerate() { (drawn(panel, at, picked)) }
        }
    };
    Some(Picture { svg, caption: caption.to_owned() })
}

fn name(channel: &Channel) -> String {
    phrase::named(channel, NAME_WIDTH)
}

/// What a panel shows, for those who don't see it.
fn told(panel: &Panel<'_>, picked: Picked) -> String {
    let length = number::length(total_s(&picked_spans(panel, picked)));
    let what = match picked {
        Picked::Closed => "sounds while closed",
        Picked::Idle => "is open at rest",
    };
    format!("{}, {}: {what} for {length}.", name(panel.channel), number::stretch(panel.span))
}

fn picked_spans(panel: &Panel<'_>, picked: Picked) -> Vec<Span> {
    let (sounds, open) = (&panel.channel.active, &panel.line.on);
    let spans = match picked {
        Picked::Closed => without(sounds, open),
        Picked::Idle => without(open, sounds),
    };
    both(&spans, &[panel.span])
}

fn drawn(panel: &Panel<'_>, at: usize, picked: Picked) -> Markup {
    #[expect(clippy::cast_precision_loss, reason = "panels are few")]
    let top = PANEL * at as f64;
    let across = Across::new(panel.span.start_s, panel.span.end_s, LEFT, RIGHT);
    let hatched = picked_spans(panel, picked);
    let row = match picked {
        Picked::Closed => top + 22.0,
        Picked::Idle => top + 44.0,
    };
    let longest = hatched.iter().max_by(|a, b| a.length_s().total_cmp(&b.length_s()));
    html! {
        text.row x="0" y=(pixels(top + 13.0)) { (name(panel.channel)) }
        text.tick x="0" y=(pixels(top + 34.0)) { "sounds" }
        text.tick x="0" y=(pixels(top + 56.0)) { "open" }
        (lane(across, &both(&panel.channel.active, &[panel.span]), top + 22.0, "sounds"))
        (lane(across, &both(&panel.line.on, &[panel.span]), top + 44.0, "open"))
        (lane(across, &hatched, row, "hatched"))
        @if let (Some(span), Picked::Closed) = (longest, picked) {
            text.value x=(across.at(span.end_s)) y=(pixels(top + 14.0)) text-anchor="end" {
                (number::tick((span.length_s() * 10.0).round() / 10.0, Unit::Seconds)) " lost"
            }
        }
        (clock(across, top + 62.0))
    }
}

fn lane(across: Across, spans: &[Span], y: f64, class: &str) -> Markup {
    html! {
        @for span in thinned(spans, (across.high() - across.low()) / N_STEPS) {
            rect class=(class) x=(across.at(span.start_s)) width=(across.wide(span.start_s, span.end_s)) y=(pixels(y)) height=(pixels(LANE)) {}
        }
    }
}

/// Stretches without gaps that are too short to be seen.
fn thinned(spans: &[Span], gap_s: f64) -> Vec<Span> {
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.start_s - last.end_s < gap_s => {
                last.end_s = last.end_s.max(span.end_s);
            }
            _ => joined.push(*span),
        }
    }
    joined
}

/// The clock below a picture.
pub(super) fn clock(across: Across, y: f64) -> Markup {
    let mut moments = across.moments();
    // A moment at the edge would leave the picture.
    moments.retain(|at_s| {
        (LEFT..97.0).contains(&across.percent(*at_s)) || across.percent(*at_s) < 95.0
    });
    html! {
        @for at_s in moments {
            line.grid x1=(across.at(at_s)) x2=(across.at(at_s)) y1=(pixels(y)) y2=(pixels(y + 4.0)) {}
            text.tick x=(across.at(at_s)) y=(pixels(y + 17.0)) text-anchor="middle" { (number::clock(at_s)) }
        }
    }
}

/// The pattern of what is picked out, once for a page.
pub(in crate::page) fn hatch() -> Markup {
    html! {
        svg.patterns width="0" height="0" aria-hidden="true" {
            defs {
                pattern #hatch width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect.hatch-ground width="5" height="5" {}
                    line.hatch-line x1="0" x2="0" y1="0" y2="5" {}
                }
            }
        }
    }
}

/// Every channel of the mix over the whole evening: what was open, and within it when its source sounded.
pub(in crate::page) fn stage(reading: &Reading) -> Option<Markup> {
    let mix = reading.mix.as_ref()?;
    let lines: Vec<(&Channel, &MixChannel)> = mix
        .channels
        .iter()
        .filter(|line| line.is_in_mix)
        .filter_map(|line| Some((reading.channel(&line.channel)?, line)))
        .collect();
    if lines.is_empty() {
        return None;
    }
    let across = Across::new(0.0, reading.session.duration_s, 24.0, RIGHT);
    #[expect(clippy::cast_precision_loss, reason = "channels are few")]
    let place = |at: usize| 4.0 + 15.0 * at as f64;
    let foot = place(lines.len());
    let label = format!(
        "When each of {} channels was open in the mix and when its source sounded, over the whole evening.",
        lines.len()
    );
    Some(html! {
        svg.pic.stage role="img" aria-label=(label) width="100%" height=(pixels(foot + 22.0)) {
            @for (at, (channel, line)) in lines.iter().enumerate() {
                text.tick x="0" y=(pixels(place(at) + 9.0)) { (phrase::named(channel, SHORT_WIDTH)) }
                (stripes(across, &line.on, place(at), 11.0, "open"))
                (stripes(across, &channel.active, place(at) + 3.0, 5.0, "sounds"))
            }
            (clock(across, foot))
        }
    })
}

/// Stretches as one path a lane, so that an hour of 32 channels stays small.
fn stripes(across: Across, spans: &[Span], y: f64, height: f64, class: &str) -> Markup {
    let length_s = (across.high() - across.low()).max(1.0);
    let step = |at_s: f64| (at_s / length_s * 1000.0).clamp(0.0, 1000.0);
    let mut path = String::new();
    for span in thinned(spans, length_s / N_STEPS) {
        let (from, to) = (step(span.start_s), step(span.end_s));
        path.push_str(&format!("M{from:.0} 0h{:.0}v1h-{0:.0}z", (to - from).max(1.0)));
    }
    let (left, wide) =
        (percent(across.percent(across.low())), across.wide(across.low(), across.high()));
    html! {
        svg x=(left) width=(wide) y=(pixels(y)) height=(pixels(height)) viewBox="0 0 1000 1" preserveAspectRatio="none" {
            path class=(class) d=(path) {}
        }
    }
}
