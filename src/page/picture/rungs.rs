//! Tone as ten rungs: the usual range of the role as a bracket on each, and one mark where the channel lies.

use maud::{Markup, html};

use super::Picture;
use super::plot::{Across, percent, pixels};
use super::scale::shape;
use crate::coach::{BANDS, Note, window};
use crate::reading::{Channel, Reading, Spectrum};
use crate::report::{number, phrase};
use crate::session::Tap;
use crate::unit::Unit;

/// The bands in plain words, with their edges (whole third-octaves, IEC 61260-1).
const WORDS: [(&str, &str); BANDS.len()] = [
    ("rumble", "22-56 Hz"),
    ("weight", "56-112 Hz"),
    ("warmth", "112-224 Hz"),
    ("mud", "224-355 Hz"),
    ("body", "355-891 Hz"),
    ("nose", "0.9-1.8 kHz"),
    ("clarity", "1.8-3.5 kHz"),
    ("bite", "3.5-5.6 kHz"),
    ("S sounds", "5.6-8.9 kHz"),
    ("air", "9-18 kHz"),
];

/// What is drawn of the scale, in dB re the whole sound.
const LOW_DB: f64 = -40.0;
const HIGH_DB: f64 = 0.0;

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 40.0;
const RIGHT: f64 = 97.0;

/// Heights, in pixels.
const RUNG: f64 = 19.0;
const HEAD: f64 = 6.0;

/// The tone of the worst channel of a note.
pub(super) fn rungs(note: &Note, reading: &Reading) -> Option<Picture> {
    let channel = reading.channel(note.channels.first()?)?;
    let (tone, where_from) = tone(channel, reading);
    let has_window = |band: usize| window(channel.role, band) != (None, None);
    if tone.band_db.iter().all(|band| band.value().is_none()) || !(0..BANDS.len()).any(has_window) {
        return None;
    }
    let out: Vec<&str> = (0..BANDS.len())
        .filter(|&band| place(tone, band).is_some_and(|level| !is_inside(channel, band, level)))
        .map(|band| WORDS[band].0)
        .collect();
    let who = phrase::channels(reading, &note.channels[..1]);
    let found = if out.is_empty() { "none".to_owned() } else { out.join(", ") };
    let label = format!(
        "Tone of {who} {where_from} in ten bands. Outside the usual range for {}: {found}.",
        channel.role.word()
    );
    #[expect(clippy::cast_precision_loss, reason = "ten bands")]
    let foot = HEAD + RUNG * BANDS.len() as f64;
    let across = Across::new(LOW_DB, HIGH_DB, LEFT, RIGHT);
    let svg = html! {
        svg.pic role="img" aria-label=(label) width="100%" height=(pixels(foot + 22.0)) {
            @for tick in across.ticks() {
                line.grid x1=(across.at(tick)) x2=(across.at(tick)) y1="0" y2=(pixels(foot)) {}
                text.tick x=(across.at(tick)) y=(pixels(foot + 15.0)) text-anchor="middle" { (number::tick(tick, Unit::Db)) }
            }
            @for band in 0..BANDS.len() { (rung(across, band, channel, tone)) }
        }
    };
    let caption = format!(
        "{who} {where_from}, low to high: the mark is how much of the sound lies in a band, the bracket is where {} usually lies.",
        channel.role.word()
    );
    Some(Picture { svg, caption })
}

/// The tone to look at: as it reaches the mix where the recording was taken before the channel's tone control.
fn tone<'a>(channel: &'a Channel, reading: &'a Reading) -> (&'a Spectrum, &'static str) {
    let in_mix = reading.mix.as_ref().and_then(|mix| mix.channel(&channel.id)?.tone.as_ref());
    match in_mix {
        Some(tone) if channel.tap == Tap::Raw => (tone, "as it reaches the mix"),
        _ => (&channel.spectrum, "as it was recorded"),
    }
}

fn place(tone: &Spectrum, band: usize) -> Option<f64> {
    tone.band_db.get(band)?.value()
}

fn is_inside(channel: &Channel, band: usize, level_db: f64) -> bool {
    let (low, high) = window(channel.role, band);
    low.is_none_or(|end| level_db >= end) && high.is_none_or(|end| level_db <= end)
}

fn rung(across: Across, band: usize, channel: &Channel, tone: &Spectrum) -> Markup {
    #[expect(clippy::cast_precision_loss, reason = "ten bands")]
    let y = HEAD + RUNG * (band as f64 + 0.5);
    let (low, high) = window(channel.role, band);
    let (word, edges) = WORDS[band];
    html! {
        text.row x="0" y=(pixels(y + 4.0)) { (word) " " tspan.quiet { (edges) } }
        line.rail x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(y)) y2=(pixels(y)) {}
        @if low.is_some() || high.is_some() {
            line.range x1=(across.at(low.unwrap_or(LOW_DB))) x2=(across.at(high.unwrap_or(HIGH_DB))) y1=(pixels(y)) y2=(pixels(y)) {}
            @for end in [low, high].into_iter().flatten() {
                line.goal x1=(across.at(end)) x2=(across.at(end)) y1=(pixels(y - 6.0)) y2=(pixels(y + 6.0)) {}
            }
        }
        @if let Some(level_db) = place(tone, band) {
            svg.mark x=(across.at(level_db)) y=(pixels(y)) width="1" height="1" overflow="visible" {
                (shape(is_inside(channel, band, level_db)))
            }
        }
    }
}
