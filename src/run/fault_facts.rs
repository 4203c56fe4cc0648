//! Facts about faults that only a look at the other channels tells: bangs of plugs, spikes in mixes for ears.
//!
//! Takes what the meters gave and what the other channels do at the same moment, fills in the channels. Never measures.

use super::facts::events;
use super::stream::Measured;
use crate::measure::bang::{Bang, bangs, floor_change_db};
use crate::measure::rise::rise_db;
use crate::measure::spike::spikes_at_s;
use crate::reading::{Channel, Events, Feedback};
use crate::session::{Family, Role, Tap};

/// Events of two channels closer than this are one event, in seconds.
const TOGETHER_S: f64 = 0.05;

/// A channel that gets louder by this has something of its own to tell, in dB: an onset, and one that talk in the room can't be.
const ONSET_DB: f64 = 6.0;
const CLEAR_ONSET_DB: f64 = 10.0;

/// One of so many other inputs may share a bang or a new floor.
const FEW_IN: usize = 4;

/// A floor that moves by this share of the channel's own change, the same way, shares it: when talk stops, all floors fall a little.
const OWN_MOVE: f64 = 0.5;

/// Fills in bangs.
pub(super) fn fill(channels: &mut [Channel], measured: &Measured) {
    let found: Vec<Events> =
        (0..channels.len()).map(|idx| plug_pops(channels, measured, idx)).collect();
    for (channel, plug_pops) in channels.iter_mut().zip(found) {
        channel.plug_pops = plug_pops;
    }
}

/// Inputs other than one, with the other side of its pair left out: two sides are one source.
fn others<'a>(channels: &'a [Channel], idx: usize) -> impl Iterator<Item = usize> + Clone + 'a {
    (0..channels.len()).filter(move |&other| {
        other != idx
            && channels[other].role.is_input()
            && channels[other].tap == Tap::Raw
            && channels[other].partner.as_deref() != Some(channels[idx].id.as_str())
    })
}

/// Whether another input gets louder at a moment.
fn rises(measured: &Measured, other: usize, at_s: f64, by_db: f64) -> bool {
    rise_db(&measured.common[other].levels.peak, at_s).is_some_and(|rise_db| rise_db >= by_db)
}

/// Bangs that most other inputs don't share, behind which only this channel's floor is another.
fn plug_pops(channels: &[Channel], measured: &Measured, idx: usize) -> Events {
    let channel = &channels[idx];
    let family = channel.role.family();
    if !channel.role.is_input() || family == Family::Drums || channel.tap != Tap::Raw {
        return Events::default();
    }
    let others = others(channels, idx);
    let few = |n: usize| FEW_IN * n <= others.clone().count();
    let is_own = |bang: &Bang| {
        let border_db = bang.floor_change_db.abs() * OWN_MOVE;
        let moves = |other: &usize| {
            floor_change_db(&measured.common[*other].levels.power, bang.at_s)
                .is_some_and(|change_db| change_db * bang.floor_change_db.signum() >= border_db)
        };
        let rises = |other: &usize| rises(measured, *other, bang.at_s, CLEAR_ONSET_DB);
        few(others.clone().filter(moves).count()) && few(others.clone().filter(rises).count())
    };
    let found = bangs(&measured.common[idx].levels.power);
    events(found.iter().filter(|bang| is_own(bang)).map(|bang| bang.at_s).collect())
}

/// Fills in spikes of mixes for ears: those that no input has an onset for, and those that come with a bang or a howl.
pub(super) fn spikes(channels: &mut [Channel], measured: &Measured, feedback: &Feedback) {
    let pops_s: Vec<f64> =
        channels.iter().flat_map(|channel| channel.plug_pops.at_s.iter().copied()).collect();
    for idx in 0..channels.len() {
        if channels[idx].role != Role::MonitorMix || !channels[idx].is_in_ear {
            continue;
        }
        let is_odd = |at_s: &f64| {
            pops_s.iter().any(|pop_s| (at_s - pop_s).abs() <= TOGETHER_S)
                || feedback.howls.iter().any(|howl| howl.span.holds(*at_s))
                || !others(channels, idx).any(|other| rises(measured, other, *at_s, ONSET_DB))
        };
        let found = spikes_at_s(&measured.common[idx].levels.peak);
        let spikes = found.ok().map(|at_s| events(at_s.into_iter().filter(is_odd).collect()));
        channels[idx].ear_spikes = spikes;
    }
}
