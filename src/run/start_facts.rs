//! Facts about where a compressor or a gate of a channel would begin to work.
//!
//! Takes levels and peaks of a raw channel and when its own source sounds, fills in suggestions. Says nothing of what was set.

use super::meters::Common;
use crate::measure::parting::{self, Parting};
use crate::measure::threshold::{self, INSTRUMENT_DB, VOICE_DB};
use crate::reading::{Channel, CompressorStart, GateStart};
use crate::session::{Role, Tap};
use crate::unit::{Fact, Span, Unmeasured};

/// Usual ratios of compressors (common practice), and the one that notes on voices speak of.
const RATIOS: [f64; 3] = [2.0, USUAL_RATIO, 4.0];
const USUAL_RATIO: f64 = 3.0;

/// Roles that are gated now and then (common practice). A gate on a voice cuts soft words: it is muted by hand.
const GATED: &[Role] = &[Role::Tom, Role::SnareTop, Role::SnareBottom, Role::Kick];

/// How near such a threshold comes: other designs turned ten instruments down by 0.5 dB less to 3.8 dB more.
const THRESHOLD_SURE: f64 = 0.7;

/// Below this own-to-spill a compressor works on the neighbours, in dB.
const CLEAN_DB: f64 = 12.0;

/// How sure a threshold is that parts a source from its spill: it rests on when the source sounds (judgement).
const PARTING_SURE: f64 = 0.6;

/// Fills in the suggestions for a channel whose own-to-spill and sounding stretches are known.
pub(super) fn fill(
    channel: &mut Channel,
    common: &Common,
    own_to_spill_db: &Result<f64, Unmeasured>,
) {
    if channel.tap == Tap::Raw {
        channel.starts.compressor_starts = compressors(channel.role, common, own_to_spill_db);
        channel.starts.gate_start =
            GATED.contains(&channel.role).then(|| gate(common, &channel.sounding));
    }
    let mut usual = channel.starts.compressor_starts.iter().filter(|one| one.ratio == USUAL_RATIO);
    channel.starts.start_threshold_dbfs = match usual.next() {
        Some(start) if channel.role.is_single_voice() => start.threshold_dbfs.clone(),
        _ => Fact::missing(Unmeasured::Because(
            "only asked of single voices right after the preamplifier",
        )),
    };
}

/// Gain reduction that is usual on loud phrases of a role; none where a compressor is not usual.
fn usual_reduction_db(role: Role) -> Option<f64> {
    match role {
        role if role.is_single_voice() => Some(VOICE_DB),
        Role::Bass | Role::AcousticGuitar => Some(INSTRUMENT_DB),
        _ => None,
    }
}

fn compressors(
    role: Role,
    common: &Common,
    own_to_spill_db: &Result<f64, Unmeasured>,
) -> Vec<CompressorStart> {
    let Some(reduction_db) = usual_reduction_db(role) else { return Vec::new() };
    let found = if own_to_spill_db.as_ref().is_ok_and(|db| *db < CLEAN_DB) {
        Err(Unmeasured::Because("the microphone hears too much of its neighbours"))
    } else {
        threshold::compressors(&common.levels.power, RATIOS, reduction_db)
    };
    let start = |(idx, ratio): (usize, f64)| {
        let threshold_dbfs = found.as_ref().map(|found| found[idx].threshold_dbfs);
        CompressorStart {
            ratio,
            reduction_db,
            threshold_dbfs: Fact::from_result(threshold_dbfs.map_err(Clone::clone), THRESHOLD_SURE),
        }
    };
    RATIOS.into_iter().enumerate().map(start).collect()
}

fn gate(common: &Common, sounding: &[Span]) -> GateStart {
    let parting = parting::threshold(&common.levels.peak, sounding);
    let told = |of: fn(&Parting) -> f64| {
        Fact::from_result(parting.as_ref().map(of).map_err(Clone::clone), PARTING_SURE)
    };
    GateStart {
        threshold_dbfs: told(|one| one.threshold_dbfs),
        overlap_percent: told(|one| one.overlap_percent),
    }
}
