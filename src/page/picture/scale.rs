//! Measured numbers against their target: a mark a channel below a bracket.

use maud::{Markup, html};

use super::Picture;
use super::plot::{Across, percent, pixels, ticks};
use crate::coach::{Measured, Note, Target, rule};
use crate::reading::{Reading, SongMix};
use crate::report::{number, phrase};
use crate::session::Role;
use crate::unit::{Fact, Unit};

/// More rows are read from the table.
const MOST_ROWS: usize = 6;

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 3.0;
const RIGHT: f64 = 97.0;

/// Behind this place a number stands before its mark, in hundredths of the width.
const TURNS: f64 = 72.0;

/// Heights, in pixels.
const HEAD: f64 = 30.0;
const ROW: f64 = 40.0;
const FOOT: f64 = 24.0;

/// A row: whose number it is, and the number.
struct Row<'a> {
    name: String,
    fact: &'a Fact,
}

/// What a note measured against its target.
pub(super) fn scale(note: &Note, reading: &Reading) -> Option<Picture> {
    let first = note.measured.first()?;
    let alike = note.measured.iter().filter(|one| one.name == first.name);
    let rows: Vec<Row<'_>> = alike
        .filter(|one| ends(&one.fact).is_some())
        .take(MOST_ROWS)
        .map(|one| Row { name: name(one, reading), fact: &one.fact })
        .collect();
    let target = &note.target;
    let svg = chart(&rows, target.low, target.high, target.unit)?;
    Some(Picture { svg, caption: caption(first, target) })
}

fn name(measured: &Measured, reading: &Reading) -> String {
    match measured.channels.as_slice() {
        [] => "whole session".to_owned(),
        ids => phrase::channels(reading, &ids[..1]),
    }
}

fn caption(measured: &Measured, target: &Target) -> String {
    let goal = number::range(target.low, target.high, target.unit);
    format!("The mark is what was measured ({}), the bracket is the target: {goal}.", measured.name)
}

/// Lead voices against the band, a mark a song.
pub(in crate::page) fn balance(songs: &[SongMix], reading: &Reading) -> Option<Markup> {
    let leads = songs.iter().flat_map(|song| song.leads.iter().map(move |lead| (song, lead)));
    let rows: Vec<Row<'_>> = leads
        .filter(|(_, lead)| ends(&lead.over_rest_lu).is_some())
        .map(|(song, lead)| {
            let is_only = reading.with_role(&[Role::LeadVocal]).nth(1).is_none();
            let who = phrase::channels(reading, std::slice::from_ref(&lead.channel));
            let name = if is_only { song.title.clone() } else { format!("{who}, {}", song.title) };
            Row { name, fact: &lead.over_rest_lu }
        })
        .collect();
    let target = rule("voice-buried")?
        .limbs
        .first()?
        .windows
        .iter()
        .find(|window| window.variant.is_empty() || window.variant == reading.session.style)?;
    chart(&rows, target.green.low, target.green.high, Unit::Lu)
}

/// Low and high end of a fact; none where there is no value.
pub(super) fn ends(fact: &Fact) -> Option<(f64, f64)> {
    match *fact {
        Fact::Value { value, .. } => Some((value, value)),
        Fact::AtMost { at_most, .. } => Some((at_most, at_most)),
        Fact::AtLeast { at_least, .. } => Some((at_least, at_least)),
        Fact::Range { low, high, .. } => Some((low, high)),
        Fact::Missing { .. } => None,
    }
}

fn chart(rows: &[Row<'_>], low: Option<f64>, high: Option<f64>, unit: Unit) -> Option<Markup> {
    let values = rows.iter().filter_map(|row| ends(row.fact)).flat_map(|(low, high)| [low, high]);
    let all: Vec<f64> = values.chain(low).chain(high).collect();
    let least = all.iter().copied().reduce(f64::min).filter(|_| !rows.is_empty())?;
    let most = all.iter().copied().reduce(f64::max)?;
    let room = 0.2 * (most - least).max(1.0);
    // A share or a count can't be negative.
    let is_from_zero = matches!(unit, Unit::Percent | Unit::Count | Unit::Seconds) && least >= 0.0;
    let start = if is_from_zero { 0.0 } else { least - room };
    let across = Across::new(start, most + room, LEFT, RIGHT);
    #[expect(clippy::cast_precision_loss, reason = "rows are few")]
    let foot = HEAD + ROW * rows.len() as f64;
    let goal = number::range(low, high, unit);
    let told: Vec<String> =
        rows.iter().map(|row| format!("{} {}", row.name, number::fact(row.fact, unit))).collect();
    let label = format!("Target {goal}. Measured: {}.", told.join("; "));
    Some(html! {
        svg.pic role="img" aria-label=(label) width="100%" height=(pixels(foot + FOOT)) {
            (grid(across, foot, unit))
            (bracket(across, low, high, &format!("target {goal}")))
            @for (at, row) in rows.iter().enumerate() {
                (mark(across, at, row, unit, is_inside(row.fact, low, high)))
            }
        }
    })
}

/// Whether all of a fact lies on target.
fn is_inside(fact: &Fact, low: Option<f64>, high: Option<f64>) -> bool {
    ends(fact).is_some_and(|(least, most)| {
        low.is_none_or(|end| least >= end) && high.is_none_or(|end| most <= end)
    })
}

fn grid(across: Across, foot: f64, unit: Unit) -> Markup {
    html! {
        @for tick in ticks(across.low(), across.high(), 4.0) {
            line.grid x1=(across.at(tick)) x2=(across.at(tick)) y1=(pixels(HEAD)) y2=(pixels(foot)) {}
            text.tick x=(across.at(tick)) y=(pixels(foot + 15.0)) text-anchor="middle" {
                (number::tick(tick, unit))
            }
        }
    }
}

/// The target: a bracket whose open ends run out to the edge with an arrow.
fn bracket(across: Across, low: Option<f64>, high: Option<f64>, words: &str) -> Markup {
    let (left, right) = (low.unwrap_or(across.low()), high.unwrap_or(across.high()));
    let y = pixels(HEAD - 8.0);
    let end = |place: f64, is_closed: bool, arrow: &'static str| {
        let x = across.at(place);
        html! {
            @if is_closed {
                line.goal x1=(x) x2=(x) y1=(y) y2=(pixels(HEAD)) {}
            } @else {
                text.goal-end x=(x) y=(pixels(HEAD - 3.5)) text-anchor="middle" { (arrow) }
            }
        }
    };
    let middle = f64::midpoint(across.percent(left), across.percent(right));
    // Words at an edge would leave the picture.
    let (x, anchor) = match middle {
        ..45.0 => (across.percent(left).max(LEFT), "start"),
        75.0.. => (across.percent(right), "end"),
        _ => (middle, "middle"),
    };
    html! {
        line.goal x1=(across.at(left)) x2=(across.at(right)) y1=(y) y2=(y) {}
        (end(left, low.is_some(), "◂"))
        (end(right, high.is_some(), "▸"))
        text.goal-word x=(percent(x)) y="14" text-anchor=(anchor) { (words) }
    }
}

fn mark(across: Across, at: usize, row: &Row<'_>, unit: Unit, is_on_target: bool) -> Markup {
    let Some((low, high)) = ends(row.fact) else { return html! {} };
    #[expect(clippy::cast_precision_loss, reason = "rows are few")]
    let y = HEAD + ROW * at as f64 + 27.0;
    let class = if is_on_target { "on" } else { "off" };
    let place = f64::midpoint(across.percent(low), across.percent(high));
    // The number stands on the side with more room.
    let (anchor, shift) = if place > TURNS { ("end", -11) } else { ("start", 11) };
    html! {
        text.row x=(percent(LEFT)) y=(pixels(y - 13.0)) { (row.name) }
        line.rail x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(y)) y2=(pixels(y)) {}
        @if high > low {
            line class={ "reach " (class) } x1=(across.at(low)) x2=(across.at(high)) y1=(pixels(y)) y2=(pixels(y)) {}
        }
        svg.mark x=(percent(place)) y=(pixels(y)) width="1" height="1" overflow="visible" {
            (shape(is_on_target))
        }
        svg x=(across.at(if place > TURNS { low } else { high })) y=(pixels(y)) width="1" height="1" overflow="visible" {
            text.value x=(shift) y="4" text-anchor=(anchor) { (number::fact(row.fact, unit)) }
        }
    }
}

/// A disc on target, a filled diamond off target.
pub(super) fn shape(is_on_target: bool) -> Markup {
    html! {
        @if is_on_target { circle.on r="5" {} }
        @else { path.off d="M0-7 7 0 0 7-7 0z" {} }
    }
}
