//! # Threshold that parts a source from its spill
//!
//! Whether a gate can tell the strokes or words of a channel from what its microphone hears of others, and where it would have to open.
//!
//! - **Formula:** hits (see hits and notes) that begin while the channel's own source sounds, or up to 60 ms before it is heard to, are its own, all
//!   others are spill; overlap: least value over all thresholds of the share of the spill above plus the share of its own below; the
//!   threshold that gives it, in the middle of the widest such gap
//! - **Unit:** dBFS (peaks of 10 ms at the raw tap); %
//! - **Range:** 0 % (fully parted) to 100 % (alike)
//! - **Source:** sum of both errors of a threshold (W. J. Youden, Cancer 3, 1950: one minus his index); up to 10 % a gate works, up to
//!   30 % an expander: common practice
//! - **Window:** whole recording
//! - **No value:** fewer than 12 hits of either kind
//! - **Misleads when:** soft strokes are taken for spill because their source was not heard; others play softer tonight than usual

use super::hits::{Hit, hits};
use super::trace::Trace;
use crate::unit::{Span, Unmeasured};

/// Hits of each kind that are needed.
const NEEDS: usize = 12;

/// How much earlier a stroke may begin than its source is heard, in seconds.
const EARLY_S: f64 = 0.060;

/// A threshold and how well it parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parting {
    /// Where it stands.
    pub threshold_dbfs: f64,
    /// Share of spill above plus share of own strokes below, in percent.
    pub overlap_percent: f64,
}

/// The threshold that parts own hits from spill best, from squared peaks in steps of 10 ms and when the own source sounds.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below 12 hits of either kind.
#[expect(clippy::cast_precision_loss, reason = "hits are few")]
pub fn threshold(peak: &Trace, sounding: &[Span]) -> Result<Parting, Unmeasured> {
    let whole = Span::new(0.0, peak.len() as f64 * peak.step_s());
    // The spans are in order and apart: the first that ends later is the only one that may hold a hit.
    let is_own = |hit: &Hit| {
        let at = sounding.partition_point(|span| span.end_s <= hit.at_s);
        sounding.get(at).is_some_and(|span| span.start_s - EARLY_S <= hit.at_s)
    };
    let all = hits(peak, &[whole]);
    let mut levels: Vec<(f64, bool)> =
        all.iter().map(|hit| (hit.level_dbfs, is_own(hit))).collect();
    let n_own = levels.iter().filter(|(_, is_own)| *is_own).count();
    let have = n_own.min(levels.len() - n_own);
    if have < NEEDS {
        return Err(Unmeasured::TooFewEvents { have, need: NEEDS });
    }
    levels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let [own, spill] = [n_own as f64, (levels.len() - n_own) as f64];
    let (mut own_below, mut spill_above) = (0.0, spill);
    let mut best: Option<(f64, f64, f64)> = None;
    for pair in levels.windows(2) {
        if pair[0].1 {
            own_below += 1.0;
        } else {
            spill_above -= 1.0;
        }
        let (overlap, gap_db) = (own_below / own + spill_above / spill, pair[1].0 - pair[0].0);
        let is_better = best.is_none_or(|(least, widest_db, _)| {
            overlap < least - 1e-9 || overlap < least + 1e-9 && gap_db > widest_db
        });
        if is_better {
            best = Some((overlap, gap_db, 0.5 * (pair[0].0 + pair[1].0)));
        }
    }
    let (overlap, _, threshold_dbfs) = best.ok_or(Unmeasured::Silent)?;
    Ok(Parting { threshold_dbfs, overlap_percent: 100.0 * overlap.min(1.0) })
}
