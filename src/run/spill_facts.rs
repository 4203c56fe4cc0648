//! Facts of sources in microphones that are not their own.
//!
//! Takes what the microphones share, gives a pair for each source and foreign microphone. Decides nothing that a rule
//! decides.

use super::pair_facts::blank;
use super::shared::Shared;
use crate::reading::{Channel, Kinship, Pair};

/// All pairs of a source and a microphone that hears it too.
pub(super) fn pairs(channels: &[Channel], shared: &Shared) -> Vec<Pair> {
    let pair = |bleed: &crate::relate::bleed::Bleed| {
        let source = shared.references[bleed.source];
        let mut pair = blank(channels, source, bleed.mic, Kinship::Spill);
        pair.bleed_db = bleed.bleed_db.clone();
        pair.treble_bleed_db = bleed.treble_bleed_db.clone();
        pair.transfer_db = bleed.transfer_db.clone();
        pair
    };
    shared.bleeds.iter().map(pair).collect()
}
