//! Facts about the hall that the main mix tells: how loud the stage is there beside the loudspeakers.
//!
//! Takes third-octaves of a hall microphone and of the main mix, fills in the songs. Never compares a recorder that sets its level by
//! itself.

use super::main_facts::apart;
use super::room_facts::own_level;
use super::segments::spans_of;
use super::stream::Measured;
use crate::measure::Thirds;
use crate::measure::stage::Loudspeakers;
use crate::reading::{Channel, Room, Segment, SegmentKind};
use crate::session::SessionChannel;
use crate::unit::spans::{widened, without};
use crate::unit::{Fact, Span, Unmeasured};

/// The hall rings so long behind a source on the stage, in seconds.
const RINGS_S: f64 = 2.0;

/// How sure a range is: it held the truth of all songs of one evening, and no other hall was tried.
const SURE: f64 = 0.7;

/// A room with the stage against the loudspeakers, song by song; `sides` are the places of left and right of the main mix.
pub(super) fn filled(
    room: Option<Room>,
    channels: &[Channel],
    stated: &[SessionChannel],
    sides: Option<[usize; 2]>,
    measured: &Measured,
    segments: &[Segment],
    quiet: &[Span],
) -> Option<Room> {
    let mut room = room?;
    let idx = channels.iter().position(|channel| channel.id == room.channel)?;
    let thirds = |idx: usize| &measured.common[idx].thirds;
    let mains: Vec<&Thirds> = sides.map_or_else(Vec::new, apart).into_iter().map(thirds).collect();
    let played = spans_of(segments, SegmentKind::Playback);
    let played = without(&played, &widened(&on_stage(channels), RINGS_S));
    let find = |alone: &[Span]| Loudspeakers::of(thirds(idx), &mains, alone, quiet);
    // A talker is heard without loudspeakers too: then the stage is louder than it seems.
    let by_talk = |_| find(&spans_of(segments, SegmentKind::Talk)).map(|found| (found, false));
    let has_main =
        if mains.is_empty() { Err(Unmeasured::NotRecorded("the main mix")) } else { Ok(()) };
    let found = own_level(&stated[idx])
        .and(has_main)
        .and_then(|()| find(&played).map(|found| (found, true)).or_else(by_talk));
    for song in &mut room.songs {
        let stage = found.as_ref().map_err(Clone::clone).and_then(|(loudspeakers, is_whole)| {
            let ends = loudspeakers.stage_db(thirds(idx), &mains, song.span)?;
            Ok((ends, *is_whole))
        });
        song.stage_db = match stage {
            Ok((ends, is_whole)) => told(ends, is_whole),
            Err(reason) => Fact::missing(reason),
        };
    }
    Some(room)
}

/// When anything sounds on the stage, in order.
fn on_stage(channels: &[Channel]) -> Vec<Span> {
    let mics = channels.iter().filter(|channel| channel.is_raw_input() && !channel.is_line);
    let mut spans: Vec<Span> = mics.flat_map(|channel| channel.active.iter().copied()).collect();
    spans.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    widened(&spans, 0.0)
}

fn told([low, high]: [f64; 2], is_whole: bool) -> Fact {
    let confidence = SURE;
    match (low.is_finite(), is_whole && high.is_finite()) {
        (true, true) => Fact::Range { low, high, confidence },
        (true, false) => Fact::AtLeast { at_least: low, confidence },
        (false, true) => Fact::AtMost { at_most: high, confidence },
        (false, false) => Fact::missing(Unmeasured::Because(
            "the loudspeakers hide the stage at the hall microphone",
        )),
    }
}
