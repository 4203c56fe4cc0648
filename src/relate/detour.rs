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

/// What each arrival can be.
pub fn paths(heard: &[Heard]) -> Vec<Path> {
    let path = |one: &Heard| match one.delay_s {
        early_s if one.is_close && early_s < -EARLY_S => Path::Stranger,
        late_s if late_s > shortest_s(heard, one) + AWAY_S => Path::Detour,
        _ => Path::MayBeDirect,
    };
    heard.iter().map(path).collect()
}

/// The shortest other way from a source to a microphone, as far as witnesses know; infinite if they know none.
fn shortest_s(heard: &[Heard], one: &Heard) -> f64 {
    let back = between_s(heard, one.mic, one.source, true);
    let thirds = heard.iter().flat_map(|other| [other.source, other.mic]);
    let round = thirds.filter(|third| ![one.source, one.mic].contains(third)).map(|third| {
        between_s(heard, one.source, third, false) + between_s(heard, third, one.mic, false)
    });
    round.fold(back, f64::min)
}

/// Shortest arrival that a witness tells between two microphones: of the first's source in the second, or either way. Infinite if none
/// does.
fn between_s(heard: &[Heard], from: usize, to: usize, is_one_way: bool) -> f64 {
    let tells = |one: &&Heard| {
        let is_here = (one.source, one.mic) == (from, to);
        let is_there = (one.source, one.mic) == (to, from);
        // Sound that is there before it has left says nothing.
        one.is_witness && one.delay_s > 0.0 && (is_here || (!is_one_way && is_there))
    };
    heard.iter().filter(tells).map(|one| one.delay_s).fold(f64::INFINITY, f64::min)
}
