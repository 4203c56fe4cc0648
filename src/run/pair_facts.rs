//! Facts of two channels, from the meters of pairs.

use super::kin::Kin;
use crate::reading::{Channel, Kinship, Pair};
use crate::relate::twin::Twin;
use crate::unit::spans::passage;
use crate::unit::{Fact, Span, Unmeasured};

/// An averaged correlation is as sure as its blocks are many; 19 of 20 lie within 0.05 in simulated pairs.
const CORRELATION_CONFIDENCE: f64 = 0.95;

/// All pairs: stereo sources, channels on one source, and channels that carry one signal though nothing says so.
pub(super) fn pairs(channels: &[Channel], kin: &Kin) -> Vec<Pair> {
    let mut pairs = Vec::new();
    for (left, right, agreement) in &kin.stereo {
        let mut pair = blank(channels, *left, *right, Kinship::StereoPair);
        let fact = |pick: fn(&crate::relate::stereo::Agreement) -> f64| {
            Fact::from_result(
                agreement.as_ref().map(pick).map_err(Clone::clone),
                CORRELATION_CONFIDENCE,
            )
        };
        pair.correlation = fact(|agreement| agreement.correlation);
        pair.inverted_percent = fact(|agreement| agreement.inverted_percent);
        pair.body_correlation = fact(|agreement| agreement.low_correlation);
        pair.residual_db = residual(&kin.twins, *left, *right);
        pairs.push(pair);
    }
    for (first, second, found) in &kin.same_source {
        let mut pair = blank(channels, *first, *second, Kinship::SameSource);
        let sure = found.as_ref().map_or(0.0, |kin| kin.coherence.sqrt().min(1.0));
        let found = found.as_ref().map_err(Clone::clone);
        let arrival = found.clone().and_then(|kin| kin.arrival.clone());
        let fact = |found| Fact::from_result(found, sure);
        pair.body_correlation = fact(found.map(|kin| kin.body_correlation));
        pair.delay_s = fact(arrival.clone().map(|arrived| arrived.delay_s));
        pair.polarity = fact(arrival.map(|arrived| arrived.polarity));
        pair.residual_db = residual(&kin.twins, *first, *second);
        pairs.push(pair);
    }
    for twin in &kin.twins {
        let is_known = pairs.iter().any(|pair| {
            let ids = [&channels[twin.first].id, &channels[twin.second].id];
            ids.contains(&&pair.source) && ids.contains(&&pair.mic)
        });
        if !is_known {
            let mut pair = blank(channels, twin.first, twin.second, Kinship::Twin);
            pair.residual_db = Fact::exact(twin.residual_db);
            pair.polarity = Fact::exact(twin.polarity);
            pairs.push(pair);
        }
    }
    pairs
}

fn residual(twins: &[Twin], first: usize, second: usize) -> Fact {
    let is_meant =
        |twin: &&Twin| (twin.first, twin.second) == (first.min(second), first.max(second));
    twins.iter().find(is_meant).map_or(
        // Only twins are told: what lies above is unlike enough.
        Fact::AtLeast { at_least: -20.0, confidence: 1.0 },
        |twin| Fact::exact(twin.residual_db),
    )
}

pub(super) fn blank(channels: &[Channel], first: usize, second: usize, kinship: Kinship) -> Pair {
    let nothing = || Fact::missing(Unmeasured::Because("not measured for this kind of pair"));
    Pair {
        source: channels[first].id.clone(),
        mic: channels[second].id.clone(),
        kinship,
        residual_db: nothing(),
        correlation: nothing(),
        inverted_percent: nothing(),
        body_correlation: nothing(),
        delay_s: nothing(),
        polarity: nothing(),
        farther_m: nothing(),
        bleed_db: nothing(),
        treble_bleed_db: nothing(),
        transfer_db: nothing(),
        coherence: nothing(),
        ripple_db: nothing(),
        notches_hz: Vec::new(),
        evidence: evidence(&channels[first], &channels[second]),
    }
}

/// A passage in which the source sounds.
fn evidence(first: &Channel, second: &Channel) -> Vec<Span> {
    passage(&first.active).or_else(|| passage(&second.active)).into_iter().collect()
}
