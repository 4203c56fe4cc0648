//! Facts about mouths that turn away from their microphones.
//!
//! Takes what the meters gave and where talk is, fills in the channels. Never looks at songs: what is sung moves the treble of a
//! voice more than a turned mouth does.

use super::segments::spans_of;
use super::stream::Measured;
use crate::measure::axis::treble_fall;
use crate::measure::phrases::phrases;
use crate::reading::{Channel, Segment, SegmentKind, TrebleFall};
use crate::unit::spans::both;
use crate::unit::{Fact, Span};

/// How sure a fall is: with recordings of five talkers 1 of 400 talks without a turned mouth was told, where another talker took
/// over; other halls and voices were not tried.
const SURE: f64 = 0.7;

/// Fills in how far the treble of the voices falls while they talk.
pub(super) fn fill(channels: &mut [Channel], measured: &Measured, segments: &[Segment]) {
    let talks = spans_of(segments, SegmentKind::Talk);
    for (channel, common) in channels.iter_mut().zip(&measured.common) {
        if !channel.role.is_single_voice() || channel.is_line || !channel.is_raw_input() {
            continue;
        }
        let phrases = phrases(&common.loudness.k_power, &both(&channel.active, &talks));
        let found = treble_fall(&common.thirds, &phrases, &talks);
        let told = found.as_ref().ok();
        let at: Vec<Span> = told.and_then(|fall| fall.at).into_iter().flatten().collect();
        channel.microphone.treble_fall = Some(TrebleFall {
            explained_db: told.map(|fall| fall.explained_db),
            at,
            fall_db: Fact::from_result(
                found.map(|fall| fall.fall_db),
                SURE.min(channel.active_confidence),
            ),
        });
    }
}
