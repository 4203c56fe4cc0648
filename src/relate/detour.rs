//! # Detour
//!
//! Arrivals that cannot be direct sound, because sound that goes round by a third microphone would be there sooner, or because no
//! player stands that far from the own microphone.
//!
//! - **Formula:** a source is heard `t` later in another microphone than in its own. The microphones of `a` and `c` are at most
//!   `d(a, b) + d(b, c)` apart, and each `d` is at most its own `t` and what the sources stand away from their microphones:
//!   `t(a, c)` is a detour if it exceeds `t(a, b) + t(b, c)`, or the way back `t(c, a)`, by more than 3.5 ms; `t(a, c)`
//!   is no arrival of `a` at all if it is below -1.75 ms
//! - **Unit:** s
//! - **Range:** direct for all that is known, a detour, or a stranger
//! - **Source:** the inequality of the triangle, for direct sound; sources within 0.3 m of their microphones (common practice)
//! - **Window:** chosen minutes
//! - **No value:** no detour is told where no other way is known for sure
//! - **Misleads when:** a witness stands far from the own microphone, or wedges carry it: so overheads, voices and what comes by wire
//!   are none

use std::collections::{BTreeMap, BTreeSet};

/// What sources may stand away from their microphones altogether, in seconds: 1.2 m, four times 0.3 m.
const AWAY_S: f64 = 3.5e-3;

/// How much sooner than in its own microphone a source may be in another, in seconds: 0.6 m.
const EARLY_S: f64 = AWAY_S / 2.0;

/// What an arrival can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Path {
    /// Nothing speaks against direct sound.
    MayBeDirect,
    /// A reflection, or a loudspeaker.
    Detour,
    /// Another source.
    Stranger,
}

/// A source that is heard in another microphone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// Channel of the source's own microphone.
    pub source: usize,
    /// Channel of the other.
    pub mic: usize,
    /// Arrival in the other minus arrival in its own, in seconds.
    pub delay_s: f64,
    /// Whether the source stands close to its own microphone.
    pub is_close: bool,
    /// Whether it may speak against others: sure, of a source that stands close to its microphone, and by air.
    pub is_witness: bool,
}

/// What witnesses know of the ways between microphones.
pub struct Ways {
    /// From the channel of a source to that of a microphone, by both: the shortest arrival that any tells.
    arrivals_s: BTreeMap<(usize, usize), f64>,
    /// All channels that are named there.
    channels: BTreeSet<usize>,
}

impl Ways {
    /// The ways that the witnesses among some sources tell.
    pub fn new<'a>(heard: impl IntoIterator<Item = &'a Heard>) -> Self {
        let mut ways = Self { arrivals_s: BTreeMap::new(), channels: BTreeSet::new() };
        // Sound that is there before it has left says nothing.
        for one in heard.into_iter().filter(|one| one.is_witness && one.delay_s > 0.0) {
            let told_s = ways.arrivals_s.entry((one.source, one.mic)).or_insert(f64::INFINITY);
            *told_s = told_s.min(one.delay_s);
            ways.channels.extend([one.source, one.mic]);
        }
        ways
    }

    /// What an arrival can be.
    pub fn path(&self, one: &Heard) -> Path {
        match one.delay_s {
            early_s if one.is_close && early_s < -EARLY_S => Path::Stranger,
            late_s if late_s > self.shortest_s(one) + AWAY_S => Path::Detour,
            _ => Path::MayBeDirect,
        }
    }

    /// The shortest other way from a source to a microphone; infinite if none is known.
    fn shortest_s(&self, one: &Heard) -> f64 {
        let (from, to) = (one.source, one.mic);
        let thirds = self.channels.iter().filter(|third| ![from, to].contains(third));
        let round = thirds.map(|&third| self.between_s(from, third) + self.between_s(third, to));
        round.fold(self.told_s(to, from), f64::min)
    }

    /// The shorter arrival of two microphones' sources in each other's.
    fn between_s(&self, a: usize, b: usize) -> f64 {
        self.told_s(a, b).min(self.told_s(b, a))
    }

    fn told_s(&self, source: usize, mic: usize) -> f64 {
        self.arrivals_s.get(&(source, mic)).copied().unwrap_or(f64::INFINITY)
    }
}
