//! # Same thing twice
//!
//! Channels that carry one source, told by their sound where names say nothing; stereo pairs with one side, and pairs whose
//! sides are swapped against each other.
//!
//! - **Formula:** one signal: coherence 0.95 and more. Wire and microphone: coherence 0.9 and more, and the microphone 0.1 to
//!   10 ms later. Heads of a snare: coherence 0.5 to 0.95, inverted, within 1 ms, body correlation -0.4 or lower where it is
//!   known, hits, half of the power above 120 Hz. Inside and outside of a kick: coherence 0.5 to 0.95, 0.1 to 3 ms apart, body
//!   correlation 0.4 and more in size where it is known, hits, half of the power below 150 Hz. One-sided: one side 20 dB or more
//!   under the other, or silent. Swapped: at least two sources that lean by 3 dB or more in both pairs, each to opposite sides,
//!   and none to the same side; a source whose softer side is the sooner one does not count
//! - **Unit:** kind, with a confidence from 0 to 1
//! - **Range:** 0.5 to 0.99
//! - **Source:** coherences of rendered stages (stereo direct inputs 0.997 and more, wire and amplifier 0.92 to 0.96, heads of a
//!   snare 0.59 to 0.77, kick inside and outside 0.67 to 0.85, overheads 0.36 to 0.43); the rest is common practice
//! - **Window:** that of the measurements it is told from
//! - **No value:** no such pair; sides of which fewer than two sources lean clearly can't be compared
//! - **Misleads when:** two close microphones on one loud source stand where another pair of a kind would. The confidences of kinds
//!   are judgement and have not been calibrated

use super::arrival::Arrival;
use super::coherence::Coherence;
use crate::unit::Unmeasured;

/// Coherence from which two channels are one signal, one wire and one microphone, or of one source.
const ONE_SIGNAL: f64 = 0.95;
const WIRED: f64 = 0.9;
const KIN: f64 = 0.5;

/// What a wire is sooner than its microphone, in seconds: 3 cm to 3.4 m of air.
const WIRE_SOONER_S: [f64; 2] = [0.000_1, 0.010];

/// Most between the heads of a snare, least and most between the inside and the outside of a kick, in seconds: 34 cm; 3 cm, 1 m.
const SNARE_S: f64 = 0.001;
const KICK_S: [f64; 2] = [0.000_1, 0.003];

/// Least body correlation, in size, of two microphones on one drum.
const BODY_CORRELATION: f64 = 0.4;

/// Crest factor from which a channel carries hits and not notes, in dB (common practice).
const HITS_DB: f64 = 15.0;

/// Half of the power of a snare lies above, that of a kick below, in Hz (common practice).
const SNARE_HZ: f64 = 120.0;
const KICK_HZ: f64 = 150.0;

/// Difference of sides from which a pair is one-sided, in dB.
const ONE_SIDED_DB: f64 = 20.0;

/// Difference of sides from which a source leans, in dB.
const LEANS_DB: f64 = 3.0;

/// Arrivals closer than this tell no side, in seconds: 3 cm.
const SAME_TIME_S: f64 = 0.000_1;

/// Fewest sources that tell two views apart.
const NEEDS_SOURCES: usize = 2;

/// What kind of sameness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Both carry one signal, like the sides of a direct input.
    OneSignal,
    /// The first is wired to the source, the second hears it.
    WireAndMicrophone,
    /// The two heads of a snare; which is which is not told.
    SnareHeads,
    /// The inside of a kick first, the outside second.
    KickInsideAndOutside,
    /// Of a stereo pair only the first side carries something.
    OneSided,
    /// Two stereo pairs, told by their left channels, see the stage from opposite sides.
    Swapped,
}

/// Two channels that are the same thing twice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alike {
    /// A channel.
    pub first: usize,
    /// The other.
    pub second: usize,
    /// In what way.
    pub kind: Kind,
    /// How sure, 0 to 1.
    pub confidence: f64,
}

/// What is known of one channel.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Heard {
    /// Loud level; none if it is silent.
    pub loud_dbfs: Option<f64>,
    /// Peak over average power.
    pub crest_db: Option<f64>,
    /// Half of the power lies below, half above.
    pub middle_hz: Option<f64>,
    /// Whether it is a wire, where that is noted.
    pub is_line: Option<bool>,
}

/// What is known of two channels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evidence {
    /// A channel.
    pub first: usize,
    /// The other.
    pub second: usize,
    /// How coherent they are.
    pub coherence: Coherence,
    /// Arrival in the second re the first, of all they hear.
    pub arrival: Option<Arrival>,
    /// Correlation at the best lag within 1.5 ms in the body band, where it was measured.
    pub body_correlation: Option<f64>,
}

/// How a stereo pair sees a source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// The source, by any number that both pairs use.
    pub source: usize,
    /// Its level in the left channel minus that in the right.
    pub lean_db: f64,
    /// Its arrival in the left channel minus that in the right.
    pub lag_s: Option<f64>,
}

/// Pairs of channels that carry one source, in the order of the evidence. `heard` has one entry a channel.
///
/// # Panics
///
/// If evidence names a channel that is not there.
pub fn alike(heard: &[Heard], evidence: &[Evidence]) -> Vec<Alike> {
    evidence.iter().filter_map(|pair| kind_of(heard, pair)).collect()
}

fn kind_of(heard: &[Heard], pair: &Evidence) -> Option<Alike> {
    let coherence = pair.coherence.full;
    let delay_s = pair.arrival.map_or(0.0, |arrival| arrival.delay_s);
    // What is sooner comes first.
    let [first, second] =
        if delay_s < 0.0 { [pair.second, pair.first] } else { [pair.first, pair.second] };
    let found = |kind: Kind, confidence: f64| Some(Alike { first, second, kind, confidence });
    if (KIN..ONE_SIGNAL).contains(&coherence)
        && let Some(kind) = drum(heard, pair)
    {
        return found(kind, if pair.body_correlation.is_some() { 0.8 } else { 0.6 });
    }
    let [is_line, other_is_line] = [heard[first].is_line, heard[second].is_line];
    let may_be_wired = is_line != Some(false) && other_is_line != Some(true);
    let is_sooner = (WIRE_SOONER_S[0]..=WIRE_SOONER_S[1]).contains(&delay_s.abs());
    if coherence >= WIRED && is_sooner && may_be_wired {
        return found(Kind::WireAndMicrophone, if is_line == Some(true) { 0.9 } else { 0.6 });
    }
    if coherence >= ONE_SIGNAL {
        let confidence = 0.8 + 0.19 * (coherence - ONE_SIGNAL) / (1.0 - ONE_SIGNAL);
        // Nothing tells the sides of one signal apart: they keep their order.
        let (first, second) = (pair.first, pair.second);
        return Some(Alike { first, second, kind: Kind::OneSignal, confidence });
    }
    None
}

/// The kind of two microphones on one drum; none if they carry notes, or a wire is among them.
fn drum(heard: &[Heard], pair: &Evidence) -> Option<Kind> {
    let sides = [&heard[pair.first], &heard[pair.second]];
    let is_hit =
        |side: &&Heard| side.crest_db.is_some_and(|db| db >= HITS_DB) && side.is_line != Some(true);
    let arrival = pair.arrival?;
    if !sides.iter().all(is_hit) {
        return None;
    }
    let middles_hz = [sides[0].middle_hz?, sides[1].middle_hz?];
    let apart_s = arrival.delay_s.abs();
    let is_snare = arrival.polarity < 0.0
        && apart_s <= SNARE_S
        && pair.body_correlation.is_none_or(|body| body <= -BODY_CORRELATION)
        && middles_hz.iter().all(|&hz| hz > SNARE_HZ);
    if is_snare {
        return Some(Kind::SnareHeads);
    }
    let is_kick = (KICK_S[0]..=KICK_S[1]).contains(&apart_s)
        && pair.body_correlation.is_none_or(|body| body.abs() >= BODY_CORRELATION)
        && middles_hz.iter().all(|&hz| hz < KICK_HZ);
    is_kick.then_some(Kind::KickInsideAndOutside)
}

/// Stereo pairs of which one side is silent or 20 dB or more under the other; the side that sounds comes first.
///
/// # Panics
///
/// If a pair names a channel that is not there.
pub fn one_sided(heard: &[Heard], stereo: &[(usize, usize)]) -> Vec<Alike> {
    let side_of = |&(left, right): &(usize, usize)| {
        let (first, second) = match (heard[left].loud_dbfs, heard[right].loud_dbfs) {
            (Some(_), None) => (left, right),
            (None, Some(_)) => (right, left),
            (Some(a), Some(b)) if a - b >= ONE_SIDED_DB => (left, right),
            (Some(a), Some(b)) if b - a >= ONE_SIDED_DB => (right, left),
            _ => return None,
        };
        Some(Alike { first, second, kind: Kind::OneSided, confidence: 0.9 })
    };
    stereo.iter().filter_map(side_of).collect()
}

/// Whether two stereo pairs, told by their left channels, see the stage from opposite sides; none if they agree.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] if fewer than two sources lean clearly in both, or a reason if they speak against each other.
pub fn swapped(
    lefts: [usize; 2],
    first: &[Sight],
    second: &[Sight],
) -> Result<Option<Alike>, Unmeasured> {
    let (mut n_same, mut n_opposite) = (0, 0);
    for of_first in first {
        let of_second = second.iter().find(|sight| sight.source == of_first.source);
        let Some(of_second) = of_second else { continue };
        match (leans_left(of_first), leans_left(of_second)) {
            (Some(one), Some(other)) if one == other => n_same += 1,
            (Some(_), Some(_)) => n_opposite += 1,
            _ => {}
        }
    }
    let have = n_same + n_opposite;
    if have < NEEDS_SOURCES {
        return Err(Unmeasured::TooFewEvents { have, need: NEEDS_SOURCES });
    }
    match (n_same, n_opposite) {
        (_, 0) => Ok(None),
        (0, _) => {
            let confidence = if n_opposite > NEEDS_SOURCES { 0.9 } else { 0.7 };
            Ok(Some(Alike { first: lefts[0], second: lefts[1], kind: Kind::Swapped, confidence }))
        }
        _ => Err(Unmeasured::Because(
            "some sources lean to the same side in both pairs and some do not",
        )),
    }
}

/// Whether a source leans to the left, to the right, or not clearly: level and time have to agree.
fn leans_left(sight: &Sight) -> Option<bool> {
    if sight.lean_db.abs() < LEANS_DB {
        return None;
    }
    let is_left = sight.lean_db > 0.0;
    let speaks_against = |lag_s: f64| lag_s.abs() >= SAME_TIME_S && (lag_s < 0.0) != is_left;
    if sight.lag_s.is_some_and(speaks_against) { None } else { Some(is_left) }
}
