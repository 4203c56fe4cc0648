//! The evening at a glance: what happened when, and where the notes point.

use maud::{Markup, html};

use super::plot::{Across, percent, pixels};
use crate::coach::{Note, Tier};
use crate::reading::{Howl, Reading, Segment, SegmentKind};
use crate::report::number;
use crate::unit::Unit;

/// The line on which everything stands, in pixels.
const GROUND: f64 = 86.0;

/// Height of what happens, in pixels: each kind has its own.
const fn height(kind: SegmentKind) -> f64 {
    match kind {
        SegmentKind::Song => 44.0,
        SegmentKind::Playback => 32.0,
        SegmentKind::Talk => 20.0,
        SegmentKind::LineCheck => 12.0,
        SegmentKind::BandTalk | SegmentKind::OtherPlaying => 8.0,
        SegmentKind::Silence => 1.5,
    }
}

const fn class(kind: SegmentKind) -> &'static str {
    match kind {
        SegmentKind::Song => "seg song",
        SegmentKind::Playback => "seg playback",
        SegmentKind::Talk => "seg talk",
        SegmentKind::LineCheck => "seg check",
        SegmentKind::BandTalk | SegmentKind::OtherPlaying => "seg other",
        SegmentKind::Silence => "seg silence",
    }
}

/// The strip, and the names of what is in it.
pub(in crate::page) fn evening(reading: &Reading, notes: &[Note]) -> Option<Markup> {
    if reading.segments.is_empty() {
        return None;
    }
    let across = Across::new(0.0, reading.session.duration_s, 0.5, 99.5);
    let marks = marks(across, notes);
    let howls: Vec<&Howl> = howls(reading).collect();
    Some(html! {
        svg.pic.evening role="img" aria-label=(label(reading, notes)) width="100%" height=(pixels(GROUND + 24.0)) {
            @for segment in &reading.segments { (block(across, segment)) }
            line.ground x1="0" x2="100%" y1=(pixels(GROUND)) y2=(pixels(GROUND)) {}
            @for howl in &howls { (zigzag(across.percent(howl.span.start_s))) }
            @for mark in &marks { (pointer(mark)) }
            @for at_s in across.moments().into_iter().filter(|at_s| *at_s > 0.0 && across.percent(*at_s) < 96.0) {
                line.grid x1=(across.at(at_s)) x2=(across.at(at_s)) y1=(pixels(GROUND)) y2=(pixels(GROUND + 4.0)) {}
                text.tick x=(across.at(at_s)) y=(pixels(GROUND + 18.0)) text-anchor="middle" { (number::clock(at_s)) }
            }
            text.tick x="0" y=(pixels(GROUND + 18.0)) { "00:00" }
        }
        (legend(reading))
    })
}

/// Howls that everyone heard: sure, and in order of time.
fn howls(reading: &Reading) -> impl Iterator<Item = &Howl> {
    // As sure as the note on one has to be.
    reading.feedback.howls.iter().filter(|howl| howl.confidence >= Tier::B.floor())
}

/// The sign of a howl, hanging from the line on which everything stands.
fn zigzag(place_percent: f64) -> Markup {
    let y = pixels(GROUND - 1.0);
    html! {
        svg.howl x=(percent(place_percent)) y=(y) width="14" height="16" overflow="visible" {
            path d="M0 0 l4 4 l-8 4 l8 4 l-4 4" {}
        }
    }
}

/// A note's number above its passages.
struct Mark {
    number: usize,
    place_percent: f64,
    row: usize,
}

/// Marks of all notes: those that would touch stand in the next row.
fn marks(across: Across, notes: &[Note]) -> Vec<Mark> {
    /// Room that a mark takes on a phone, in hundredths of the width.
    const WIDE: f64 = 7.0;
    /// Rows of marks.
    const ROWS: usize = 2;
    /// Places of a note at most.
    const PLACES: usize = 3;

    let mut marks: Vec<Mark> = Vec::new();
    for (at, note) in notes.iter().enumerate() {
        for span in note.evidence.iter().take(PLACES) {
            let place_percent = across.percent(span.start_s).clamp(2.5, 97.5);
            let is_free = |row: usize| {
                marks
                    .iter()
                    .all(|one| one.row != row || (one.place_percent - place_percent).abs() >= WIDE)
            };
            let is_told = marks.iter().any(|one| {
                one.number == at + 1 && (one.place_percent - place_percent).abs() < WIDE
            });
            if let Some(row) = (0..ROWS).find(|row| is_free(*row)).filter(|_| !is_told) {
                marks.push(Mark { number: at + 1, place_percent, row });
            }
        }
    }
    marks
}

fn pointer(mark: &Mark) -> Markup {
    let y = if mark.row == 0 { 28.0 } else { 9.0 };
    let x = percent(mark.place_percent);
    html! {
        line.pointer x1=(x) x2=(x) y1=(pixels(y)) y2=(pixels(GROUND)) {}
        circle.pin cx=(x) cy=(pixels(y)) r="9" {}
        text.pin-word x=(x) y=(pixels(y + 4.0)) text-anchor="middle" { (mark.number) }
    }
}

fn block(across: Across, segment: &Segment) -> Markup {
    let tall = height(segment.kind);
    html! {
        rect class=(class(segment.kind)) x=(across.at(segment.span.start_s))
            width=(across.wide(segment.span.start_s, segment.span.end_s))
            y=(pixels(GROUND - tall)) height=(pixels(tall)) {}
    }
}

/// What the strip shows, for those who don't see it.
fn label(reading: &Reading, notes: &[Note]) -> String {
    let parts = reading.segments.iter().filter(|one| one.kind != SegmentKind::Silence);
    let parts: Vec<String> =
        parts.map(|one| format!("{} {}", number::clock(one.span.start_s), name(one))).collect();
    let places: Vec<String> = notes
        .iter()
        .enumerate()
        .filter_map(|(at, note)| {
            let span = note.evidence.first()?;
            Some(format!("note {} at {}", at + 1, number::clock(span.start_s)))
        })
        .collect();
    let howls: Vec<String> = howls(reading)
        .map(|howl| format!(" {} {}.", number::clock(howl.span.start_s), howl_words(howl, reading)))
        .collect();
    format!("The evening: {}. Marks: {}.{}", parts.join(", "), places.join(", "), howls.concat())
}

/// One plain line on a howl.
fn howl_words(howl: &Howl, reading: &Reading) -> String {
    let channel = reading.channel(&howl.channel);
    let name = channel.map_or("", |channel| channel.name.as_str());
    let is_heard = channel.is_some_and(|one| one.role.family().only_hears_loops());
    let place = if is_heard { "in" } else { "from" };
    let tone = number::whole_with_unit(howl.frequency_hz, Unit::Hz);
    format!("howl of {:.1} s at {tone}, {place} {name}", howl.span.length_s())
}

fn name(segment: &Segment) -> &str {
    if segment.title.is_empty() { segment.kind.word() } else { &segment.title }
}

/// Songs by name with their begin, and what the shapes mean.
fn legend(reading: &Reading) -> Markup {
    /// More songs than these are read in the table of the mix.
    const MOST_SONGS: usize = 12;
    const KINDS: [SegmentKind; 5] = [
        SegmentKind::Song,
        SegmentKind::Playback,
        SegmentKind::Talk,
        SegmentKind::LineCheck,
        SegmentKind::OtherPlaying,
    ];
    let has = |kind: SegmentKind| reading.segments_of(kind).next().is_some();
    let songs = reading.segments_of(SegmentKind::Song).take(MOST_SONGS);
    html! {
        ul.legend {
            @for kind in KINDS.into_iter().filter(|kind| has(*kind)) {
                li {
                    svg.key width="16" height="16" aria-hidden="true" {
                        rect class=(class(kind)) x="1" width="14" y=(pixels(15.0 - height(kind) / 3.2)) height=(pixels(height(kind) / 3.2)) {}
                    }
                    (kind.word())
                }
            }
            @for howl in howls(reading) {
                li.song-name {
                    svg.key.howl width="16" height="18" aria-hidden="true" { path d="M8 1 l4 4 l-8 4 l8 4 l-4 4" {} }
                    b { (number::clock(howl.span.start_s)) } " " (howl_words(howl, reading))
                }
            }
            @for song in songs { li.song-name { b { (number::clock(song.span.start_s)) } " " (song.title) } }
        }
    }
}
