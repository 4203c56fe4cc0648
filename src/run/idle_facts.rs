//! Facts of microphones that stand open while nobody uses them.
//!
//! Takes the board of a session and who plays when, gives how many are idle at a time in some stretches. Decides nothing that a rule
//! decides.

use super::mix_facts::{MOST_SPANS, TOO_LITTLE};
use super::song_facts::Player;
use crate::reading::{Channel, Idle};
use crate::relate::board::Board;
use crate::relate::handling;
use crate::unit::spans::{both, longest, total_s};
use crate::unit::{Fact, Span, Unmeasured};

/// Idle for less counts as a breath between phrases, in seconds.
const IDLE_S: f64 = 20.0;

/// A share of idle time that is unclear by no more is a value, in percent of the time.
const UNCLEAR_PERCENT: f64 = 1.0;

/// Share of the time in which a channel is open and its source rests: what is told of it, and what may be where too little is heard to tell
/// whether it was closed. A range where that makes a difference.
pub(super) fn idle_percent(told_and_may_be: &[Vec<Span>; 2], within: &[Span], sure: f64) -> Fact {
    let [low, high] =
        told_and_may_be.each_ref().map(|spans| handling::share_percent(spans, within));
    if high - low <= UNCLEAR_PERCENT {
        return Fact::sure(f64::midpoint(low, high), sure);
    }
    Fact::Range { low, high, confidence: sure }
}

/// Microphones that stand open for nothing in some stretches; the kit counts as one.
pub(super) fn idle(
    channels: &[Channel],
    board: &Board,
    players: &[Player],
    within: &[Span],
    sure: Option<f64>,
) -> Idle {
    let looked_at_s = total_s(within);
    let missing = |reason: Unmeasured| Idle {
        mean_count: Fact::missing(reason.clone()),
        channels: Vec::new(),
        cost_db: Fact::missing(reason),
        looked_at_s,
        evidence: Vec::new(),
    };
    let Some(sure) = sure else { return missing(TOO_LITTLE) };
    if looked_at_s <= 0.0 {
        return missing(Unmeasured::Because("there is no such stretch"));
    }
    let (mut idle_s, mut open_s) = (0.0, 0.0);
    let mut most: Vec<(f64, String, Vec<Span>)> = Vec::new();
    for mic in players.iter().filter(|player| player.is_microphone()) {
        let mut idle = both(&handling::idle(&mic.sounds, &mic.on), within);
        idle.retain(|span| span.length_s() > IDLE_S);
        idle_s += total_s(&idle);
        open_s += total_s(&both(&mic.on, within));
        if !idle.is_empty() {
            let id = channels[board.lines[mic.lines[0]].channel].id.clone();
            most.push((total_s(&idle), id, idle));
        }
    }
    most.sort_by(|a, b| b.0.total_cmp(&a.0));
    let in_use_s = (open_s - idle_s).max(looked_at_s);
    Idle {
        mean_count: Fact::sure(idle_s / looked_at_s, sure),
        evidence: most.first().map_or_else(Vec::new, |one| longest(&one.2, MOST_SPANS)),
        channels: most.into_iter().map(|one| one.1).collect(),
        cost_db: Fact::sure(10.0 * ((in_use_s + idle_s) / in_use_s).log10(), sure),
        looked_at_s,
    }
}
