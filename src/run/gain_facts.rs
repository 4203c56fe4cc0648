//! Facts about preamplifiers that were turned while the band played.
//!
//! Takes third-octaves of all inputs and when each rests, fills in the channels. Looks at microphones alone: what comes by wire hears
//! no neighbours.

use rayon::prelude::*;

use super::segments::spans_of;
use super::stream::Measured;
use crate::measure::Thirds;
use crate::reading::{Channel, GainStep, Segment, SegmentKind};
use crate::relate::gain_step::{Step, gain_steps};
use crate::session::Role;
use crate::unit::Span;

/// Fills in the steps; `resting` says when each channel's own source rests while others play.
pub(super) fn fill(
    channels: &mut [Channel],
    resting: &[Vec<Span>],
    measured: &Measured,
    segments: &[Segment],
) {
    let songs = spans_of(segments, SegmentKind::Song);
    let title = |at_s: f64| {
        let song = segments.iter().find(|segment| segment.span.holds(at_s));
        song.map(|song| song.title.clone()).unwrap_or_default()
    };
    let thirds = |idx: usize| &measured.common[idx].thirds;
    let steps_of = |idx: usize| -> Option<Vec<GainStep>> {
        let channel = &channels[idx];
        if !channel.is_raw_input() || channel.is_line || channel.role == Role::Talkback {
            return None;
        }
        let others: Vec<&Thirds> = (0..channels.len())
            .filter(|&other| other != idx && channels[other].is_raw_input())
            .map(thirds)
            .collect();
        let found = gain_steps(thirds(idx), &others, &resting[idx], &channel.active, &songs)?;
        let step = |step: &Step| GainStep {
            song: title(step.at_s),
            at_s: step.at_s,
            change_db: step.change_db,
            is_confirmed: step.is_confirmed,
        };
        Some(found.iter().map(step).collect())
    };
    let found: Vec<Option<Vec<GainStep>>> =
        (0..channels.len()).into_par_iter().map(steps_of).collect();
    for (channel, found) in channels.iter_mut().zip(found) {
        channel.microphone.gain_steps = found;
    }
}
