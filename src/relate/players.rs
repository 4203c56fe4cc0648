//! Channels grouped into players: a kit is one, so are the two sides of a stereo source.
//!
//! Takes roles and kin, gives groups in the order of their first channels. Never holds a channel that brings no source.

use crate::session::{Family, Role};

use super::activity::Source;

/// What a player contributes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// Drum kit or percussion.
    Beat,
    /// Any other instrument, and inputs of unknown role.
    Instrument,
    /// A singer or talker.
    Voice,
    /// A recording.
    Playback,
}

/// The channels of one player.
#[derive(Clone, Debug)]
pub(super) struct Player {
    pub(super) part: Part,
    pub(super) channels: Vec<usize>,
}

/// The players of a session.
pub(super) fn players(sources: &[Source], kin: &[(usize, usize)]) -> Vec<Player> {
    let mut players: Vec<Player> = Vec::new();
    for (idx, source) in sources.iter().enumerate() {
        let Some(part) = part(source.role) else { continue };
        let in_kit = is_kit(source.role);
        let is_one = |player: &&mut Player| {
            player.channels.iter().any(|&other| {
                kin.contains(&(idx, other))
                    || kin.contains(&(other, idx))
                    || (in_kit && is_kit(sources[other].role))
            })
        };
        match players.iter_mut().find(is_one) {
            Some(player) => player.channels.push(idx),
            None => players.push(Player { part, channels: vec![idx] }),
        }
    }
    players
}

fn is_kit(role: Role) -> bool {
    role.family() == Family::Drums && role != Role::Percussion
}

fn part(role: Role) -> Option<Part> {
    match role.family() {
        _ if !role.is_input() => None,
        Family::Drums => Some(Part::Beat),
        Family::Voice => Some(Part::Voice),
        Family::Playback => Some(Part::Playback),
        _ => Some(Part::Instrument),
    }
}
