//! Facts of sources in microphones that are not their own.
//!
//! Takes what the microphones share, gives a pair for each source and foreign microphone, and adds arrivals to the pairs that
//! were known before. Decides nothing that a rule decides.

use super::pair_facts::blank;
use super::shared::{Shared, Timed};
use crate::reading::{Channel, Kinship, Pair};
use crate::relate::bleed::Bleed;
use crate::relate::comb::{comb, farther_m};
use crate::unit::{Fact, Unmeasured};

/// Share of the arrivals under a mask that lie within one sample on simulated stages: too few to bear a finding.
const DELAY_CONFIDENCE: f64 = 0.5;

/// Coherence over two minutes scatters by less than 0.05 in nine of ten simulated pairs.
const COHERENCE_CONFIDENCE: f64 = 0.9;

/// All pairs of a source and a microphone that hears it too.
pub(super) fn pairs(channels: &[Channel], shared: &Shared) -> Vec<Pair> {
    let pair = |bleed: &Bleed| {
        let source = shared.references[bleed.source];
        let untimed = || Fact::missing(Unmeasured::Because("too soft there to be timed"));
        Pair {
            bleed_db: bleed.bleed_db.clone(),
            treble_bleed_db: bleed.treble_bleed_db.clone(),
            transfer_db: bleed.transfer_db.clone(),
            delay_s: untimed(),
            farther_m: untimed(),
            polarity: untimed(),
            ..blank(channels, source, bleed.mic, Kinship::Spill)
        }
    };
    shared.bleeds.iter().map(pair).collect()
}

/// Adds arrivals, coherences and the comb that follows from them.
pub(super) fn add_times(
    pairs: &mut [Pair],
    channels: &[Channel],
    shared: &Shared,
    temperature_c: f64,
) {
    for timed in &shared.timed {
        let (source, mic) = (&channels[timed.source].id, &channels[timed.mic].id);
        let is_straight = |pair: &Pair| pair.source == *source && pair.mic == *mic;
        let is_turned = |pair: &Pair| pair.source == *mic && pair.mic == *source;
        let Some(pair) = pairs.iter_mut().find(|pair| is_straight(pair) || is_turned(pair)) else {
            continue;
        };
        pair.coherence = Fact::from_result(
            timed.coherence.as_ref().map(|one| one.voice_band).map_err(Clone::clone),
            COHERENCE_CONFIDENCE,
        );
        if pair.kinship == Kinship::Spill {
            arrive(pair, timed, temperature_c);
        }
        if let Some(delay_s) = pair.delay_s.value() {
            pair.farther_m =
                Fact::sure(farther_m(delay_s, temperature_c), pair.delay_s.confidence());
        }
    }
}

fn arrive(pair: &mut Pair, timed: &Timed, temperature_c: f64) {
    let arrival = match &timed.arrival {
        Ok(arrival) => arrival,
        Err(reason) => {
            pair.delay_s = Fact::missing(reason.clone());
            pair.polarity = Fact::missing(reason.clone());
            pair.farther_m = Fact::missing(reason.clone());
            return;
        }
    };
    pair.delay_s = Fact::sure(arrival.delay_s, DELAY_CONFIDENCE);
    pair.polarity = Fact::sure(arrival.polarity, DELAY_CONFIDENCE);
    pair.farther_m = Fact::sure(farther_m(arrival.delay_s, temperature_c), DELAY_CONFIDENCE);
    if let Some(transfer_db) = pair.transfer_db.value() {
        let comb = comb(arrival.delay_s, transfer_db, arrival.polarity);
        pair.ripple_db = Fact::sure(comb.ripple_db, pair.transfer_db.confidence());
        pair.notches_hz = comb.notches_hz;
    }
}
