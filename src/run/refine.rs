//! When sources sound, from the frames in which they were followed.
//!
//! Takes what the levels said and what was followed, puts the better of the two. Never invents a source that was not heard.

use super::shared::Shared;
use crate::relate::activity::{Activity, Presence};
use crate::unit::Span;

/// Gaps that are closed, and the shortest stretch, in seconds.
const HOLD_S: f64 = 0.3;
const SHORTEST_S: f64 = 0.12;

/// How sure a followed frame is: 19 of 20 frames of simulated stages are right.
const CONFIDENCE: f64 = 0.95;

/// Puts what was followed in the place of what the levels said. Gives for each channel the single frames in which its source
/// sounds.
pub(super) fn refine(activities: &mut [Activity], shared: &Shared) -> Vec<Vec<Span>> {
    let mut sounding: Vec<Vec<Span>> = activities.iter().map(|one| one.spans.clone()).collect();
    for followed in &shared.followed {
        let activity = &mut activities[followed.channel];
        let spans = spans(&followed.sounds, shared.hop_s, HOLD_S, SHORTEST_S);
        if spans.is_empty() || activity.presence == Presence::Silent {
            continue;
        }
        // Only rounding parts frames that follow each other.
        sounding[followed.channel] = self::spans(&followed.sounds, shared.hop_s, 0.001, 0.0);
        *activity = Activity {
            presence: Presence::Own,
            active_s: spans.iter().map(|span| span.length_s()).sum(),
            spans,
            confidence: CONFIDENCE,
        };
    }
    sounding
}

/// Stretches of sounding frames of at least `shortest_s`, gaps up to `hold_s` closed. Frame `t` stands for a hop around
/// `(t + 1) hop_s`.
fn spans(sounds: &[bool], hop_s: f64, hold_s: f64, shortest_s: f64) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    for (frame, _) in sounds.iter().enumerate().filter(|(_, sounds)| **sounds) {
        #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
        let start_s = (frame as f64 + 0.5) * hop_s;
        match spans.last_mut() {
            Some(last) if start_s - last.end_s <= hold_s => last.end_s = start_s + hop_s,
            _ => spans.push(Span::new(start_s, start_s + hop_s)),
        }
    }
    spans.retain(|span| span.length_s() > shortest_s);
    spans
}
