//! Who is heard where: which channels are the own microphones of sources, and what the others have to do with them.
//!
//! Takes roles and which channels stand on one source, gives at most sixteen references and a part for each input. Never
//! looks at sound beyond how long a channel was active.

use super::activity::Source;
use super::energies::Mic;
use super::excess::Listener;
use super::grid::bands_between;
use super::sounding::Manner;
use crate::session::{Family, Role};

/// References that are told apart at most: the work grows with the square of their number.
pub const MOST_REFERENCES: usize = 16;

/// Sources without low notes are followed above this: where a voice's high-pass usually stands (common practice).
const RUMBLE_HZ: f64 = 120.0;

/// A channel that may take part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// What it carries.
    pub source: Source,
    /// Whether it is an input as it leaves the preamplifier, and anything was heard in it.
    pub is_heard: bool,
    /// How long its own source sounds, in seconds.
    pub active_s: f64,
    /// Whether its source has low notes.
    pub has_low_notes: bool,
}

/// The parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Cast {
    /// Channels that are the own microphones of sources; a source's place is its channel's place here.
    pub references: Vec<usize>,
    /// Every input that takes part.
    pub mics: Vec<Mic>,
}

impl Cast {
    /// Parts for all candidates; `kin` are channels that stand on one source.
    pub fn new(candidates: &[Candidate], kin: &[(usize, usize)]) -> Self {
        let heads = heads(candidates, kin);
        let mut references: Vec<usize> = (0..candidates.len())
            .filter(|&idx| candidates[idx].is_heard && heads[idx] == idx)
            .collect();
        if references.len() > MOST_REFERENCES {
            references.sort_by(|&a, &b| {
                candidates[b].active_s.total_cmp(&candidates[a].active_s).then(a.cmp(&b))
            });
            references.truncate(MOST_REFERENCES);
            references.sort_unstable();
        }
        let place = |channel: usize| references.iter().position(|&one| one == channel);
        let is_drum = |idx: usize| is_kit_piece(candidates[idx].source.role);
        let drums: Vec<usize> =
            (0..references.len()).filter(|&source| is_drum(references[source])).collect();
        let mics = (0..candidates.len())
            .filter(|&idx| candidates[idx].is_heard)
            .map(|idx| {
                let own = place(heads[idx]);
                let is_overhead = candidates[idx].source.role == Role::Overhead;
                // An overhead is there to hear the kit.
                let kin = if is_overhead { drums.clone() } else { Vec::new() };
                Mic { channel: idx, own, kin }
            })
            .collect();
        Self { references, mics }
    }

    /// What each input listens for; `None` for those that come by wire.
    pub fn listeners(&self, candidates: &[Candidate]) -> Vec<Option<Listener>> {
        let listener = |mic: &Mic| {
            let is_mine = |source: &usize| mic.own == Some(*source) || mic.kin.contains(source);
            let others = (0..self.references.len()).filter(|source| !is_mine(source)).collect();
            // The kit as a whole has no separated power of its own.
            let own = if mic.kin.is_empty() { mic.own } else { None };
            let low_hz = if candidates[mic.channel].has_low_notes { 0.0 } else { RUMBLE_HZ };
            let from_band = bands_between(low_hz, f64::INFINITY).start;
            let manner = Manner::of(candidates[mic.channel].source.role);
            Listener { channel: mic.channel, own, others, from_band, manner }
        };
        self.mics
            .iter()
            .map(|mic| (!candidates[mic.channel].source.is_line).then(|| listener(mic)))
            .collect()
    }
}

/// Whether a role is one piece of a kit, with a microphone of its own.
fn is_kit_piece(role: Role) -> bool {
    role.family() == Family::Drums && role != Role::Overhead && role != Role::Percussion
}

/// The channel that stands for a channel's source: the first of its kin, wires before microphones.
fn heads(candidates: &[Candidate], kin: &[(usize, usize)]) -> Vec<usize> {
    let mut group: Vec<usize> = (0..candidates.len()).collect();
    for &(a, b) in kin {
        if candidates[a].is_heard && candidates[b].is_heard {
            let (from, to) = (group[a].max(group[b]), group[a].min(group[b]));
            group.iter_mut().filter(|one| **one == from).for_each(|one| *one = to);
        }
    }
    let head = |of: usize| {
        let members =
            (0..candidates.len()).filter(|&idx| group[idx] == of && candidates[idx].is_heard);
        members.min_by_key(|&idx| (!candidates[idx].source.is_line, idx))
    };
    let heads: Vec<Option<usize>> = (0..candidates.len()).map(head).collect();
    group.iter().enumerate().map(|(idx, &of)| heads[of].unwrap_or(idx)).collect()
}
