//! Facts about pairs of channels that are open together and hear one source.
//!
//! Takes what is known of pairs and of channels in the mix, fills in facts. Never measures.

use super::mix_facts::MOST_SPANS;
use crate::reading::{Channel, Kinship, MixChannel, OpenPair, Pair};
use crate::relate::comb::comb;
use crate::unit::spans::{both, longest, total_s};
use crate::unit::{Fact, Unmeasured};

/// Delays of a comb that is heard as hollow, in seconds.
const LATE_S: [f64; 2] = [0.0003, 0.010];

/// Coherence from which on two channels share a sound.
const ALIKE: f64 = 0.4;

/// Beyond this the softer hardly colours the louder, in dB.
const NEAR_DB: f64 = 10.0;

/// Pairs are told from this long on, in seconds.
const LEAST_S: f64 = 1.0;

/// Pairs that are open together, within 10 dB of each other and 0.3 to 10 ms apart.
pub(super) fn pairs(pairs: &[Pair], channels: &[Channel], in_mix: &[MixChannel]) -> Vec<OpenPair> {
    pairs.iter().filter_map(|pair| open(pair, channels, in_mix)).collect()
}

fn open(pair: &Pair, channels: &[Channel], in_mix: &[MixChannel]) -> Option<OpenPair> {
    if !matches!(pair.kinship, Kinship::Spill | Kinship::SameSource) {
        return None;
    }
    let delay_s = pair.delay_s.value().filter(|s| (LATE_S[0]..=LATE_S[1]).contains(&s.abs()))?;
    let is_alike = pair.coherence.value().is_none_or(|coherence| coherence >= ALIKE);
    let of = |id: &str| in_mix.iter().find(|one| one.channel == id && one.is_in_mix);
    let (source, mic) = (of(&pair.source)?, of(&pair.mic)?);
    let own = channels.iter().find(|channel| channel.id == pair.source)?;
    let level_db = level_db(pair, source, mic);
    let together = both(&own.active, &both(&source.on, &mic.on));
    let together_s = total_s(&together);
    let is_near = level_db.value().is_none_or(|db| db.abs() <= NEAR_DB);
    let sign = [&pair.polarity, &source.polarity, &mic.polarity]
        .iter()
        .map(|fact| fact.value().map_or(1.0, f64::signum))
        .product();
    let ripple_db = match &level_db {
        Fact::Value { value, confidence } => {
            let sure = confidence.min(pair.delay_s.confidence());
            Fact::sure(comb(delay_s, *value, sign).ripple_db, sure)
        }
        _ => {
            Fact::missing(Unmeasured::Because("how loud the source is by way of both is not known"))
        }
    };
    (is_alike && is_near && together_s >= LEAST_S).then(|| OpenPair {
        source: pair.source.clone(),
        mic: pair.mic.clone(),
        together_s,
        level_db,
        delay_s,
        ripple_db,
        evidence: longest(&together, MOST_SPANS),
    })
}

/// The source by way of the other channel minus by way of its own, as the desk mixes them.
fn level_db(pair: &Pair, source: &MixChannel, mic: &MixChannel) -> Fact {
    let facts = [&pair.transfer_db, &mic.usual_gain_db, &source.usual_gain_db];
    let values: Option<Vec<f64>> = facts.iter().map(|fact| fact.value()).collect();
    match values {
        Some(values) => {
            let sure = facts.iter().map(|fact| fact.confidence()).fold(1.0, f64::min);
            Fact::sure(values[0] + values[1] - values[2], sure)
        }
        None => Fact::missing(Unmeasured::Because("spill or gains could not be told")),
    }
}
