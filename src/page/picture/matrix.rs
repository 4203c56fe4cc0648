//! Who hears whom: spill as a field of squares, a row a microphone, a column a source.

use maud::{Markup, html};

use super::plot::pixels;
use crate::reading::{Channel, Kinship, Pair, Reading};
use crate::report::{number, phrase};
use crate::unit::{Fact, Unit};

/// Steps of spill, in dB re the microphone's own source: from here on a square is darker. The first one is that at which a
/// neighbour is no longer out of the way (common practice).
const STEPS_DB: [f64; 4] = [-18.0, -12.0, -6.0, 0.0];

/// Side of a square, and room for names, in pixels.
const CELL: f64 = 21.0;
const SIDE: f64 = 92.0;
const HEAD: f64 = 74.0;

/// Columns of a name.
const NAME_WIDTH: usize = 11;

/// The field. None where no spill was measured.
pub(in crate::page) fn matrix(reading: &Reading) -> Option<Markup> {
    let pairs: Vec<&Pair> =
        reading.pairs.iter().filter(|pair| pair.kinship == Kinship::Spill).collect();
    let is_known = |pair: &&Pair| pair.bleed_db.reason().is_none();
    let known: Vec<&Pair> = pairs.iter().copied().filter(is_known).collect();
    let with = |of: &dyn Fn(&Pair) -> &String| -> Vec<&Channel> {
        let named = |channel: &&Channel| known.iter().any(|pair| *of(pair) == channel.id);
        reading.channels.iter().filter(named).collect()
    };
    let (mics, sources) = (with(&|pair| &pair.mic), with(&|pair| &pair.source));
    if mics.is_empty() {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "channels are few")]
    let (wide, high) =
        (SIDE + CELL * sources.len() as f64 + 40.0, HEAD + CELL * mics.len() as f64 + 4.0);
    let label = format!(
        "Spill of {} sources in {} microphones; the strongest: {}.",
        sources.len(),
        mics.len(),
        strongest(&known, reading)
    );
    let find = |mic: &Channel, source: &Channel| {
        pairs.iter().find(|pair| pair.mic == mic.id && pair.source == source.id)
    };
    Some(html! {
        div.wide tabindex="0" role="region" aria-label="Spill between microphones" {
            svg.matrix role="img" aria-label=(label) width=(pixels(wide)) height=(pixels(high)) {
                @for (column, source) in sources.iter().enumerate() { (head(column, source)) }
                @for (row, mic) in mics.iter().enumerate() {
                    text.tick x=(pixels(SIDE - 6.0)) y=(pixels(place(HEAD, row) + 14.0)) text-anchor="end" {
                        (phrase::named(mic, NAME_WIDTH))
                    }
                    @for (column, source) in sources.iter().enumerate() {
                        (cell(row, column, mic, source, find(mic, source).copied()))
                    }
                }
            }
        }
        (legend())
    })
}

#[expect(clippy::cast_precision_loss, reason = "channels are few")]
fn place(from: f64, at: usize) -> f64 {
    from + CELL * at as f64
}

fn head(column: usize, source: &Channel) -> Markup {
    let (x, y) = (place(SIDE, column) + 14.0, HEAD - 6.0);
    html! {
        text.tick x=(pixels(x)) y=(pixels(y)) transform={ "rotate(-60 " (pixels(x)) " " (pixels(y)) ")" } {
            (phrase::named(source, NAME_WIDTH))
        }
    }
}

/// What is known of a level: the level, and whether it is a ceiling only.
fn level(fact: &Fact) -> Option<(f64, bool)> {
    match *fact {
        Fact::Value { value, .. } => Some((value, false)),
        Fact::AtLeast { at_least, .. } => Some((at_least, false)),
        Fact::Range { low, high, .. } => Some((f64::midpoint(low, high), false)),
        Fact::AtMost { at_most, .. } => Some((at_most, true)),
        Fact::Missing { .. } => None,
    }
}

fn shade(level_db: f64) -> usize {
    STEPS_DB.iter().filter(|step_db| level_db >= **step_db).count()
}

fn cell(row: usize, column: usize, mic: &Channel, source: &Channel, pair: Option<&Pair>) -> Markup {
    let (x, y) = (pixels(place(SIDE, column)), pixels(place(HEAD, row)));
    let side = pixels(CELL - 2.0);
    let (middle, base) = (pixels(place(SIDE, column) + 9.5), pixels(place(HEAD, row) + 13.5));
    let known = pair.and_then(|pair| level(&pair.bleed_db));
    html! {
        @if mic.id == source.id {
            rect.itself x=(x) y=(y) width=(side) height=(side) {}
        } @else if let Some((level_db, false)) = known {
            rect class={ "heat h" (shade(level_db)) } x=(x) y=(y) width=(side) height=(side) {}
            text class={ "cell c" (shade(level_db)) } x=(middle) y=(base) text-anchor="middle" {
                (number::whole_with_unit(level_db, Unit::Count))
            }
        } @else if known.is_some() {
            rect.heat.h0 x=(x) y=(y) width=(side) height=(side) {}
            text.cell.c0 x=(middle) y=(base) text-anchor="middle" { "·" }
        } @else {
            rect.unknown x=(x) y=(y) width=(side) height=(side) {}
        }
    }
}

/// The strongest ways in words.
fn strongest(known: &[&Pair], reading: &Reading) -> String {
    /// More are read from the field.
    const MOST: usize = 3;

    let value = |pair: &Pair| pair.bleed_db.value().unwrap_or(f64::NEG_INFINITY);
    let mut loud: Vec<&Pair> =
        known.iter().copied().filter(|pair| pair.bleed_db.value().is_some()).collect();
    loud.sort_by(|one, other| value(other).total_cmp(&value(one)));
    let of = |id: &String| phrase::channels(reading, std::slice::from_ref(id));
    let words: Vec<String> = loud
        .into_iter()
        .take(MOST)
        .map(|pair| {
            let level = number::fact(&pair.bleed_db, Unit::Db);
            format!("{} in {} at {level}", of(&pair.source), of(&pair.mic))
        })
        .collect();
    if words.is_empty() { "only ceilings are known".to_owned() } else { words.join("; ") }
}

fn legend() -> Markup {
    let word = |step: usize| match step {
        0 => format!("below {}", number::tick(STEPS_DB[0], Unit::Db)),
        _ => format!("{} and more", number::tick(STEPS_DB[step - 1], Unit::Db)),
    };
    html! {
        ul.legend {
            @for step in 0..=STEPS_DB.len() {
                li {
                    svg.key width="16" height="16" aria-hidden="true" {
                        rect class={ "heat h" (step) } x="1" y="1" width="14" height="14" {}
                    }
                    (word(step))
                }
            }
            li { "· a ceiling only" }
            li {
                svg.key width="16" height="16" aria-hidden="true" { rect.unknown x="1" y="1" width="14" height="14" {} }
                "not measured"
            }
        }
    }
}
