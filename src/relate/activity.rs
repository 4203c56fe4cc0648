//! # Activity of a channel's own source
//!
//! When the player or talker of a channel sounds, told from what the microphone hears of the others.
//!
//! - **Formula:** levels of 100 ms frames and their mean over 4 frames; their top is the 97th percentile, or 10 dB under
//!   what 2 s reach if that is higher. Own-active: above the top minus 28 dB, above the 3rd percentile plus 8 dB, and
//!   for microphones 4 dB above what spill explains (see `spill`). Gaps up to 300 ms are closed, stretches under 200 ms
//!   dropped. An overhead's own source is the whole kit
//! - **Unit:** spans, in s; confidence
//! - **Source:** own trials on simulated sessions (9 of 9 songs found from it); the holding times are common practice
//! - **Window:** whole recording
//! - **No value:** never; a channel is silent, hears only spill, or never pauses, and that is said
//! - **Misleads when:** two players always play together, and never alone; a microphone's own source is softer there
//!   than the spill

use rayon::prelude::*;

use crate::dsp::percentile::percentile;
use crate::measure::Trace;
use crate::session::Role;
use crate::unit::Span;

use super::frames::{self, FRAME_S, Levels};
use super::spill::{Explained, Spill};

/// Frames that the level is averaged over.
const SMOOTH: usize = 4;

/// How far under its top a channel may lie and be active, in dB.
const UNDER_TOP_DB: f64 = 28.0;

/// How far above its 3rd percentile it lies at least, in dB.
const OVER_FLOOR_DB: f64 = 8.0;

/// How far above the explained level, in dB.
const OVER_SPILL_DB: f64 = 4.0;

/// A channel whose top lies under this carries no source, in dBFS: the definition of a dead channel.
const DEAD_DBFS: f64 = -75.0;

/// Between its 3rd percentile and its top a channel without pause moves less than this, in dB.
const NO_PAUSE_DB: f64 = 12.0;

/// A channel without pause that is louder than this carries something, in dBFS; below, it is noise.
const NO_PAUSE_DBFS: f64 = -50.0;

/// Gaps that are closed, and the shortest stretch, in frames: 300 ms and 200 ms.
const HOLD: usize = 3;
const SHORTEST: usize = 2;

/// What must be known of a channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Source {
    /// What it carries.
    pub role: Role,
    /// Whether it comes by wire: no spill reaches it.
    pub is_line: bool,
}

impl Source {
    /// Whether it is a source that others may hear. Mixes, returns and rooms hold the sum of all and would explain
    /// everything; a click goes to ears. Wedges are left out: what they bring is already in some channel.
    pub const fn spills(self) -> bool {
        self.role.is_input()
    }
}

/// How a source is present in its channel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// It sounds and pauses.
    Own,
    /// The level never falls: it always sounds, or something else does.
    AlwaysOn,
    /// What the channel holds is explained by other channels.
    OnlySpill,
    /// There is nothing, or only noise.
    Silent,
}

/// When the source of a channel sounds.
#[derive(Clone, Debug, PartialEq)]
pub struct Activity {
    /// How it is present.
    pub presence: Presence,
    /// When it sounds, in order.
    pub spans: Vec<Span>,
    /// How long altogether, in seconds.
    pub active_s: f64,
    /// Confidence, 0 to 1.
    pub confidence: f64,
}

/// When each channel's own source sounds.
///
/// `levels` are powers in 10 ms steps; `kin` are channels that stand on one source (left and right, top and bottom),
/// which must not explain each other away.
///
/// # Panics
///
/// If there is not one source for each trace.
pub fn own_activity(
    levels: &[&Trace],
    sources: &[Source],
    kin: &[(usize, usize)],
) -> Vec<Activity> {
    assert_eq!(levels.len(), sources.len(), "one source for each trace");
    let sharp = Levels::new(levels);
    let smooth = sharp.smoothed(SMOOTH);
    let n_channels = levels.len();
    let ends: Vec<Ends> =
        (0..n_channels).into_par_iter().map(|idx| Ends::new(smooth.channel(idx))).collect();
    let spill = Spill::new(&smooth, sources, &ends, kin);
    (0..n_channels)
        .into_par_iter()
        .map(|idx| activity(&sharp, &smooth, idx, ends[idx], spill.explained(idx).as_ref()))
        .collect()
}

/// Ends of the level's distribution.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ends {
    /// 3rd percentile.
    pub(super) floor_db: f64,
    /// 97th percentile, or 10 dB under the level that 2 s reach, whichever is higher: of a source that sounds for a
    /// minute in an evening, the percentile holds only what others spill.
    pub(super) top_db: f64,
}

impl Ends {
    /// Ends of the smoothed levels of a channel.
    pub(super) fn new(levels: &[f32]) -> Self {
        /// Frames that a rare source lasts, and how far it may reach over its top, in dB.
        const RARE: usize = 20;
        const OVER_TOP_DB: f64 = 10.0;
        let mut levels: Vec<f64> = levels.iter().map(|&level| f64::from(level)).collect();
        let end = |share| percentile(&levels, share).unwrap_or(-200.0);
        let (floor_db, high_db) = (end(0.03), end(0.97));
        let rare_db = levels.len().checked_sub(RARE).map_or(high_db, |rank| {
            *levels.select_nth_unstable_by(rank, f64::total_cmp).1 - OVER_TOP_DB
        });
        Self { floor_db, top_db: high_db.max(rare_db) }
    }

    /// Whether the channel carries no source.
    pub(super) fn is_dead(self) -> bool {
        self.top_db < DEAD_DBFS
    }
}

fn activity(
    sharp: &Levels,
    smooth: &Levels,
    idx: usize,
    ends: Ends,
    explained: Option<&Explained>,
) -> Activity {
    let none =
        |presence, confidence| Activity { presence, spans: Vec::new(), active_s: 0.0, confidence };
    let n_frames = sharp.n_frames();
    if n_frames == 0 || ends.is_dead() {
        return none(Presence::Silent, 0.95);
    }
    let has_pause = ends.top_db - ends.floor_db >= NO_PAUSE_DB;
    if !has_pause && ends.top_db < NO_PAUSE_DBFS {
        return none(Presence::Silent, 0.8);
    }
    let over_floor_db = if has_pause { ends.floor_db + OVER_FLOOR_DB } else { f64::MIN };
    let gate_db = (ends.top_db - UNDER_TOP_DB).max(over_floor_db);
    let (level, mean) = (sharp.channel(idx), smooth.channel(idx));
    let is_own = |frame: usize| {
        let over_spill =
            explained.is_none_or(|e| f64::from(mean[frame] - e.level_db[frame]) > OVER_SPILL_DB);
        // The mean blurs begin and end by 200 ms; the single frame keeps them sharp.
        f64::from(mean[frame].min(level[frame])) > gate_db && over_spill
    };
    let mut active: Vec<bool> = (0..n_frames).map(is_own).collect();
    frames::close_gaps(&mut active, HOLD);
    frames::drop_short(&mut active, SHORTEST);
    let n_active = active.iter().filter(|&&is_active| is_active).count();
    if n_active == 0 {
        return none(Presence::OnlySpill, 0.7);
    }
    let spans = frames::spans(&active);
    #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
    let active_s = n_active as f64 / 10.0;
    let (presence, confidence) = match (has_pause, explained) {
        (false, _) => (Presence::AlwaysOn, 0.4),
        (true, None) => (Presence::Own, 0.95),
        (true, Some(spill)) if spill.is_known => (Presence::Own, 0.85),
        (true, Some(_)) => (Presence::Own, 0.6),
    };
    Activity { presence, spans, active_s, confidence }
}

/// Length of a frame, for those who count active frames.
pub const STEP_S: f64 = FRAME_S;
