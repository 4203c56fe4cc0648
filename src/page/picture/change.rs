//! A number then and now, a row a channel, each against its own target.

use maud::{Markup, html};

use super::plot::{Across, percent, pixels, ticks};
use super::scale::{ends, shape};
use crate::comparison::{Chart, Row};
use crate::report::{number, text};
use crate::unit::{Fact, Unit};

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 4.0;
const RIGHT: f64 = 96.0;

/// Heights, in pixels.
const ROW: f64 = 46.0;
const HEAD: f64 = 4.0;
const FOOT: f64 = 24.0;

/// The picture with its words.
pub(in crate::page) fn change(chart: &Chart) -> Markup {
    let Some(across) = across(chart) else { return html! {} };
    #[expect(clippy::cast_precision_loss, reason = "rows are few")]
    let foot = HEAD + ROW * chart.rows.len() as f64;
    let told: Vec<String> = chart.rows.iter().map(|row| told(row, chart.unit)).collect();
    let label = format!("{}, then and now. {}.", chart.number, told.join("; "));
    html! {
        figure.full {
            h3 { (chart.title) }
            svg.pic role="img" aria-label=(label) width="100%" height=(pixels(foot + FOOT)) {
                @for tick in ticks(across.low(), across.high(), 4.0) {
                    line.grid x1=(across.at(tick)) x2=(across.at(tick)) y1=(pixels(HEAD)) y2=(pixels(foot)) {}
                    text.tick x=(across.at(tick)) y=(pixels(foot + 15.0)) text-anchor="middle" { (number::tick(tick, chart.unit)) }
                }
                @for (at, row) in chart.rows.iter().enumerate() { (drawn(across, at, row, chart.unit)) }
            }
            figcaption {
                (chart.number) ": the ring is then, the filled mark is now (a disc on target, a diamond off it), the bracket is the target."
            }
        }
    }
}

fn across(chart: &Chart) -> Option<Across> {
    let of_row = |row: &Row| {
        let values = [&row.then, &row.now].into_iter().filter_map(ends);
        let values: Vec<f64> = values.flat_map(|(low, high)| [low, high]).collect();
        values.into_iter().chain(row.target.low).chain(row.target.high)
    };
    let all: Vec<f64> = chart.rows.iter().flat_map(of_row).collect();
    let least = all.iter().copied().reduce(f64::min)?;
    let most = all.iter().copied().reduce(f64::max)?;
    let room = 0.1 * (most - least).max(1.0);
    // A share or a count can't be negative.
    let is_from_zero =
        matches!(chart.unit, Unit::Percent | Unit::Count | Unit::Seconds) && least >= 0.0;
    Some(Across::new(if is_from_zero { 0.0 } else { least - room }, most + room, LEFT, RIGHT))
}

fn told(row: &Row, unit: Unit) -> String {
    format!(
        "{}: {}, then {}, target {}",
        name(row),
        number::fact(&row.then, unit),
        number::fact(&row.now, unit),
        number::range(row.target.low, row.target.high, unit)
    )
}

fn name(row: &Row) -> String {
    if row.name.is_empty() { "whole session".to_owned() } else { text::fitted(&row.name, 24) }
}

fn drawn(across: Across, at: usize, row: &Row, unit: Unit) -> Markup {
    #[expect(clippy::cast_precision_loss, reason = "rows are few")]
    let y = HEAD + ROW * at as f64 + 32.0;
    let middle = |fact: &Fact| {
        ends(fact).map(|(low, high)| f64::midpoint(across.percent(low), across.percent(high)))
    };
    let (Some(then), Some(now)) = (middle(&row.then), middle(&row.now)) else {
        return html! {};
    };
    let [low, high] = [row.target.low, row.target.high];
    let is_on_target = ends(&row.now).is_some_and(|(least, most)| {
        low.is_none_or(|end| least >= end) && high.is_none_or(|end| most <= end)
    });
    let words = format!("{} → {}", number::fact(&row.then, unit), number::fact(&row.now, unit));
    html! {
        text.row x=(percent(LEFT)) y=(pixels(y - 17.0)) { (name(row)) }
        text.tick x=(percent(RIGHT)) y=(pixels(y - 17.0)) text-anchor="end" { (words) }
        line.rail x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(y)) y2=(pixels(y)) {}
        line.range x1=(across.at(low.unwrap_or(across.low()))) x2=(across.at(high.unwrap_or(across.high()))) y1=(pixels(y)) y2=(pixels(y)) {}
        @for end in [low, high].into_iter().flatten() {
            line.goal x1=(across.at(end)) x2=(across.at(end)) y1=(pixels(y - 7.0)) y2=(pixels(y + 7.0)) {}
        }
        line.stem.on x1=(percent(then)) x2=(percent(now)) y1=(pixels(y)) y2=(pixels(y)) {}
        svg.mark x=(percent(then)) y=(pixels(y)) width="1" height="1" overflow="visible" { circle.then r="5" {} }
        svg.mark x=(percent(now)) y=(pixels(y)) width="1" height="1" overflow="visible" {
            @if is_on_target { circle.now r="5" {} } @else { (shape(false)) }
        }
    }
}
