//! Which channels one device recorded, as far as files tell: rate, length and what was noted.
//!
//! Takes channels, gives groups, and what of each is worth listening to for its clock. Never tells devices apart whose files were cut to one
//! length.

use super::main_facts;
use crate::relate::activity::{Activity, Presence};
use crate::session::{Family, Role, SessionChannel, Tap};

/// Groups beside the largest that are devices: where there are more, files were cut one by one, and nothing tells who recorded what.
const MOST_DEVICES: usize = 4;

/// Channels of the session's recorder that others are held against, and channels of another that are listened to.
const MOST_REFERENCES: usize = 6;
const MOST_CHANNELS: usize = 3;

/// A recorder beside that of the session.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Further {
    /// All its channels but the main mix.
    pub(super) channels: Vec<usize>,
    /// Those that are listened to.
    pub(super) heard: Vec<usize>,
    /// Whether they are microphones in the hall alone.
    pub(super) is_in_hall: bool,
}

/// Who recorded what.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Devices {
    /// Channels of the session's recorder against which others are held: sources of their own first, the main mix last.
    pub(super) references: Vec<usize>,
    /// How many of them are sources.
    pub(super) n_sources: usize,
    pub(super) further: Vec<Further>,
}

/// The devices behind the channels.
pub(super) fn devices(channels: &[SessionChannel], activities: &[Activity]) -> Devices {
    let mut groups = groups(channels);
    let largest = (0..groups.len()).max_by_key(|&at| (groups[at].len(), groups.len() - at));
    let Some(largest) = largest else {
        return Devices { references: Vec::new(), n_sources: 0, further: Vec::new() };
    };
    let mut own = groups.swap_remove(largest);
    let is_hall = |group: &[usize]| group.iter().all(|&idx| is_in_hall(&channels[idx]));
    let (halls, mut others): (Vec<Vec<usize>>, Vec<Vec<usize>>) =
        groups.into_iter().partition(|group| is_hall(group));
    if others.len() > MOST_DEVICES {
        own.extend(others.drain(..).flatten());
        own.sort_unstable();
    }
    let mut further: Vec<Vec<usize>> = halls.into_iter().take(MOST_DEVICES).chain(others).collect();
    further.sort_unstable();
    let mut references = sources(channels, activities, &own);
    let n_sources = references.len();
    let main = main_facts::sides(channels).map(|sides| sides[0]);
    references.extend(main.filter(|main| own.contains(main)));
    let further = further.into_iter().map(|group| of_group(channels, activities, group));
    let further = further.filter(|one| !one.channels.is_empty()).collect();
    Devices { references, n_sources, further }
}

/// Channels whose files have one rate, one length, and a clock of their own or not. What stands in one file stays together.
fn groups(channels: &[SessionChannel]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let own_clock = |channel: &SessionChannel| channel.note.own_clock == Some(true);
    let is_like = |one: &SessionChannel, other: &SessionChannel| {
        let is_one_length = one.n_frames.is_some() && one.n_frames == other.n_frames;
        one.take_idx == other.take_idx
            || (one.rate_hz == other.rate_hz && is_one_length && own_clock(one) == own_clock(other))
    };
    for (idx, channel) in channels.iter().enumerate() {
        match groups.iter_mut().find(|group| is_like(&channels[group[0]], channel)) {
            Some(group) => group.push(idx),
            None => groups.push(vec![idx]),
        }
    }
    groups
}

fn is_in_hall(channel: &SessionChannel) -> bool {
    channel.role.family() == Family::Ambience
}

/// The inputs of a device that are heard longest, one of each pair.
fn sources(channels: &[SessionChannel], activities: &[Activity], own: &[usize]) -> Vec<usize> {
    let is_source = |&&idx: &&usize| {
        let channel = &channels[idx];
        channel.role.is_input()
            && channel.tap == Tap::Raw
            && channel.raw.is_none()
            && channel.partner.is_none_or(|partner| idx < partner)
            && activities[idx].active_s > 0.0
    };
    let mut sources: Vec<usize> = own.iter().filter(is_source).copied().collect();
    sources.sort_by(|&a, &b| activities[b].active_s.total_cmp(&activities[a].active_s));
    sources.truncate(MOST_REFERENCES);
    sources
}

fn of_group(channels: &[SessionChannel], activities: &[Activity], group: Vec<usize>) -> Further {
    let of: Vec<usize> =
        group.into_iter().filter(|&idx| channels[idx].role != Role::Main).collect();
    // What hears the room tells more than what comes by wire.
    let rank = |idx: usize| {
        let channel = &channels[idx];
        let is_of_use = !matches!(channel.role, Role::Click | Role::Timecode | Role::Spare)
            && activities[idx].presence != Presence::Silent;
        is_of_use.then_some((!is_in_hall(channel), channel.is_line))
    };
    let mut heard: Vec<usize> = of.iter().copied().filter(|&idx| rank(idx).is_some()).collect();
    heard.sort_by(|&a, &b| {
        rank(a).cmp(&rank(b)).then(activities[b].active_s.total_cmp(&activities[a].active_s))
    });
    heard.truncate(MOST_CHANNELS);
    let is_in_hall = !of.is_empty() && of.iter().all(|&idx| is_in_hall(&channels[idx]));
    Further { channels: of, heard, is_in_hall }
}
