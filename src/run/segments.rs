//! The session's segments, named.
//!
//! Takes who is active and what `session.toml` states, gives segments in order. Stated titles win over numbers.

use crate::reading::{Segment, SegmentKind};
use crate::relate::segments::{Kind, Stretch};
use crate::session::note::Song;
use crate::unit::Span;

/// A song that is stated to start this near to one that was found is that song, in seconds.
const NEAR_S: f64 = 20.0;

/// Segments with the titles of songs.
pub(super) fn named(stretches: &[Stretch], songs: &[Song]) -> Vec<Segment> {
    let mut n_songs = 0;
    stretches
        .iter()
        .map(|stretch| {
            let kind = kind(stretch.kind);
            let title = if kind == SegmentKind::Song {
                n_songs += 1;
                title(stretch, songs).unwrap_or_else(|| format!("song {n_songs}"))
            } else {
                String::new()
            };
            Segment { kind, title, span: stretch.span, confidence: stretch.confidence }
        })
        .collect()
}

/// Where the segments of a kind lie, in order.
pub(super) fn spans_of(segments: &[Segment], kind: SegmentKind) -> Vec<Span> {
    segments.iter().filter(|segment| segment.kind == kind).map(|segment| segment.span).collect()
}

fn kind(kind: Kind) -> SegmentKind {
    match kind {
        Kind::Talk => SegmentKind::Talk,
        Kind::Song => SegmentKind::Song,
        Kind::Playback => SegmentKind::Playback,
        Kind::BandTalk => SegmentKind::BandTalk,
        Kind::LineCheck => SegmentKind::LineCheck,
        Kind::OtherPlaying => SegmentKind::OtherPlaying,
        Kind::Silence => SegmentKind::Silence,
    }
}

/// The stated song that starts nearest to the stretch.
fn title(stretch: &Stretch, songs: &[Song]) -> Option<String> {
    let distance = |song: &Song| (song.start_s - stretch.span.start_s).abs();
    songs
        .iter()
        .filter(|song| distance(song) <= NEAR_S)
        .min_by(|a, b| distance(a).total_cmp(&distance(b)))
        .map(|song| song.title.clone())
}
