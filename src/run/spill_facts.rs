//! Facts of sources in microphones that are not their own.
//!
//! Takes what the microphones share, gives a pair for each source and foreign microphone, and adds arrivals to the pairs that
//! were known before. Decides nothing that a rule decides.

use super::pair_facts::blank;
use super::shared::Shared;
use super::timed::Timed;
use crate::reading::{Channel, Kinship, Pair};
use crate::relate::arrival::Arrival;
use crate::relate::bleed::Bleed;
use crate::relate::comb::{comb, farther_m};
use crate::relate::detour::{Heard, Path, Ways};
use crate::relate::verdict::Arrives;
use crate::session::{Family, Role};
use crate::unit::{Fact, Unmeasured};

/// Two estimates of one arrival agree within this, in seconds: 2 cm of air. Where low notes alone arrive, they scatter by as much.
/// Within a sample they are sure of it.
const AGREE_S: f64 = 3.0 / 48_000.0;
const CLOSE_S: f64 = 1.0 / 48_000.0;

/// Quality of the way from which its arrival was direct sound on nearly all simulated stages: below it another arrival is half as
/// large, and a reflection may be louder. And quality from which an arrival stands out.
const SHARP: f64 = 1.9;
pub(super) const BLUNT: f64 = 1.1;

/// Quality from which an arrival that only the way gives is told: of those below, one in ten was upside down.
const TOLD: f64 = 1.5;

/// Standard error of a way's arrival up to which it stands alone with confidence, and up to which a blunt one stands at all, in
/// seconds: true errors on simulated stages are up to eight times as large.
const NARROW_S: f64 = 0.3 / 48_000.0;
const WIDE_S: f64 = 0.4 / 48_000.0;

/// Confidences of two estimates that agree closely, of a sharp and narrow way alone, of two that agree but by a sample or two, and of any
/// other.
const AGREED: f64 = 0.95;
const BY_SHARP_WAY: f64 = 0.8;
const BY_SHARP_WAYS_APART: f64 = 0.6;
const BY_BLUNT_WAY: f64 = 0.5;

/// Coherence over two minutes scatters by less than 0.05 in nine of ten simulated pairs.
const COHERENCE_CONFIDENCE: f64 = 0.9;

/// All pairs of a source and a microphone that hears it too.
pub(super) fn pairs(channels: &[Channel], shared: &Shared) -> Vec<Pair> {
    let pair = |bleed: &Bleed| {
        let source = shared.references[bleed.source];
        let untimed = || Fact::missing(Unmeasured::Because("too soft there to be timed"));
        let levels = bleed.levels(Arrives::Unknown, None);
        Pair {
            bleed_db: levels.bleed_db,
            treble_bleed_db: levels.treble_bleed_db,
            transfer_db: levels.transfer_db,
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
    let found: Vec<Option<Found>> =
        shared.timed.iter().map(|timed| Found::of(timed, &channels[timed.source])).collect();
    let ways = Ways::new(found.iter().flatten().map(|found| &found.heard));
    for (timed, found) in shared.timed.iter().zip(&found) {
        let (source, mic) = (&channels[timed.source].id, &channels[timed.mic].id);
        // Spill goes one way, kin stand together.
        let is_same = |pair: &Pair| {
            (pair.source == *source && pair.mic == *mic)
                || (pair.kinship != Kinship::Spill && pair.source == *mic && pair.mic == *source)
        };
        let Some(pair) = pairs.iter_mut().find(|pair| is_same(pair)) else {
            continue;
        };
        pair.coherence = Fact::from_result(
            timed.coherence.as_ref().map(|one| one.voice_band).map_err(Clone::clone),
            COHERENCE_CONFIDENCE,
        );
        if pair.kinship == Kinship::Spill {
            let (arrives, known) = told(found.as_ref(), &ways);
            let coherent_share = timed.coherence.as_ref().map(|one| one.full).ok();
            let is_pair = |bleed: &&Bleed| {
                shared.references[bleed.source] == timed.source && bleed.mic == timed.mic
            };
            if let Some(bleed) = shared.bleeds.iter().find(is_pair) {
                let levels = bleed.levels(arrives, coherent_share);
                pair.bleed_db = levels.bleed_db;
                pair.treble_bleed_db = levels.treble_bleed_db;
                pair.transfer_db = levels.transfer_db;
            }
            arrive(pair, known.and_then(|found| borne_out(found, pair)));
        }
        if let Some(delay_s) = pair.delay_s.value() {
            pair.farther_m =
                Fact::sure(farther_m(delay_s, temperature_c), pair.delay_s.confidence());
        }
    }
}

/// An arrival that stands out.
struct Found {
    arrival: Arrival,
    confidence: f64,
    is_no_chance: bool,
    heard: Heard,
}

impl Found {
    /// How a source arrives; `own` is its own microphone.
    fn of(timed: &Timed, own: &Channel) -> Option<Self> {
        let (arrival, confidence, is_no_chance) = agreed(timed)?;
        // Overheads and choir microphones stand far from what they are there for.
        let is_close = !matches!(own.role, Role::Overhead | Role::Choir);
        // What comes by wire or out of wedges may be there before direct sound.
        let by_air = !own.is_line && own.role.family() != Family::Voice;
        let is_witness = is_close && by_air && confidence > BY_BLUNT_WAY;
        let (source, mic, delay_s) = (timed.source, timed.mic, arrival.delay_s);
        let heard = Heard { source, mic, delay_s, is_close, is_witness };
        Some(Self { arrival, confidence, is_no_chance, heard })
    }
}

/// How a source arrives, and its arrival where it may be that of direct sound.
fn told<'a>(found: Option<&'a Found>, ways: &Ways) -> (Arrives, Result<&'a Found, Unmeasured>) {
    let Some(found) = found else {
        return (Arrives::Never, Err(Unmeasured::Because("no single arrival stands out")));
    };
    match ways.path(&found.heard) {
        Path::MayBeDirect if found.confidence > BY_BLUNT_WAY => (Arrives::Surely, Ok(found)),
        Path::MayBeDirect => (Arrives::Somehow, Ok(found)),
        Path::Detour => {
            let why = "a reflection or a loudspeaker arrives there, not direct sound";
            let is_sharp = found.confidence > BY_BLUNT_WAY;
            let arrives = if is_sharp { Arrives::Surely } else { Arrives::Somehow };
            (arrives, Err(Unmeasured::Because(why)))
        }
        Path::Stranger => {
            (Arrives::Never, Err(Unmeasured::Because("another source arrives there")))
        }
    }
}

/// A blunt arrival of a source whose level there is no more than bounded may be another's, and one that hardly stands out is chance.
fn borne_out<'a>(found: &'a Found, pair: &Pair) -> Result<&'a Found, Unmeasured> {
    let is_likely = pair.transfer_db.value().is_some() && found.is_no_chance;
    let is_borne_out = found.confidence > BY_BLUNT_WAY || is_likely;
    is_borne_out.then_some(found).ok_or(Unmeasured::Because("no single arrival stands out"))
}

fn arrive(pair: &mut Pair, known: Result<&Found, Unmeasured>) {
    let found = match known {
        Ok(found) => found,
        Err(reason) => {
            let missing = || Fact::missing(reason.clone());
            (pair.delay_s, pair.polarity, pair.farther_m) = (missing(), missing(), missing());
            return;
        }
    };
    let Found { arrival, confidence, .. } = found;
    pair.delay_s = Fact::sure(arrival.delay_s, *confidence);
    pair.polarity = Fact::sure(arrival.polarity, *confidence);
    if let Some(transfer_db) = pair.transfer_db.value() {
        let comb = comb(arrival.delay_s, transfer_db, arrival.polarity);
        pair.ripple_db = Fact::sure(comb.ripple_db, confidence.min(pair.transfer_db.confidence()));
        pair.notches_hz = comb.notches_hz;
    }
}

/// The arrival of the two estimates that scatters less if both give one, else that of the way; its confidence, and whether it is no chance.
fn agreed(timed: &Timed) -> Option<(Arrival, f64, bool)> {
    let way = timed.way.filter(|way| way.quality >= BLUNT)?;
    let masked = timed.arrival.as_ref().ok();
    let apart_s = |one: &Arrival| (one.delay_s - way.delay_s).abs();
    let agreeing = masked.filter(|one| apart_s(one) <= AGREE_S);
    let arrival = agreeing.copied().filter(|one| one.error_s < way.error_s).unwrap_or(way);
    let is_blunt = way.quality < SHARP;
    let is_close = agreeing.is_some_and(|one| apart_s(one) <= CLOSE_S);
    let confidence = match agreeing {
        None if is_blunt && way.error_s > WIDE_S => return None,
        Some(_) if !is_blunt && is_close && arrival.error_s <= WIDE_S => AGREED,
        None if !is_blunt && way.error_s <= NARROW_S => BY_SHARP_WAY,
        Some(_) if !is_blunt => BY_SHARP_WAYS_APART,
        _ => BY_BLUNT_WAY,
    };
    Some((arrival, confidence, agreeing.is_some() || way.quality >= TOLD))
}
