//! Facts about faults that only a look at the other channels tells: bangs of plugs, fades of wireless links, spikes in mixes for ears.
//!
//! Takes what the meters gave and what the other channels do at the same moment, fills in the channels. Never measures.

use rayon::prelude::*;

use super::facts::events;
use super::stream::Measured;
use super::thump_facts;
use crate::measure::bang::{Bang, bangs, floor_change_db};
use crate::measure::fade::fades;
use crate::measure::rise::rise_db;
use crate::measure::spike::spikes_at_s;
use crate::measure::trace::FLOOR_DB;
use crate::reading::{Channel, Events, Feedback};
use crate::session::{Family, Role, SessionChannel};
use crate::unit::Span;

/// Events of two channels closer than this are one event, in seconds.
const TOGETHER_S: f64 = 0.05;

/// A channel that gets louder by this has something of its own to tell, in dB: an onset, and one that talk in the room can't be.
const ONSET_DB: f64 = 6.0;
const CLEAR_ONSET_DB: f64 = 10.0;

/// One of so many other inputs may share a bang or a new floor.
const FEW_IN: usize = 4;

/// A floor that moves by this share of the channel's own change, the same way, shares it: when talk stops, all floors fall a little.
const OWN_MOVE: f64 = 0.5;

/// Fills in bangs, fades, knocks and rustle; `thuds_s` are the hits of kick, bass and toms.
pub(super) fn fill(
    channels: &mut [Channel],
    stated: &[SessionChannel],
    measured: &Measured,
    thuds_s: &[f64],
) {
    let found: Vec<(Events, Option<Events>)> = (0..channels.len())
        .into_par_iter()
        .map(|idx| {
            let is_wireless = stated[idx].note.wireless;
            (plug_pops(channels, measured, idx), link_fades(channels, measured, idx, is_wireless))
        })
        .collect();
    for (channel, (plug_pops, fades)) in channels.iter_mut().zip(found) {
        channel.plug_pops = plug_pops;
        channel.microphone.fades = fades;
    }
    thump_facts::fill(channels, measured, thuds_s);
}

/// Fades of what may be wireless, but for those that another input shares: that is the recorder's fault.
fn link_fades(
    channels: &[Channel],
    measured: &Measured,
    idx: usize,
    is_wireless: Option<bool>,
) -> Option<Events> {
    let channel = &channels[idx];
    let may_be = matches!(channel.role, Role::Speech | Role::LeadVocal);
    if !channel.is_raw_input() || !is_wireless.unwrap_or(may_be) {
        return None;
    }
    let levels = |channel: usize| &measured.common[channel].levels.power;
    let found = fades(levels(idx));
    if found.is_empty() {
        return Some(Events::default());
    }
    let of_others: Vec<Vec<Span>> =
        others(channels, idx).map(|other| fades(levels(other))).collect();
    let is_cut = |other: usize, gap: &Span| {
        let [before, within] = [gap.start_s - TOGETHER_S, f64::midpoint(gap.start_s, gap.end_s)]
            .map(|at_s| levels(other).step_at(at_s));
        within < levels(other).len()
            && levels(other).level_db(before) > FLOOR_DB
            && levels(other).level_db(within) <= FLOOR_DB
    };
    let is_own = |gap: &&Span| {
        !of_others.iter().flatten().any(|other| other.shared(**gap).is_some())
            && !others(channels, idx).any(|other| is_cut(other, gap))
    };
    Some(events(found.iter().filter(is_own).map(|gap| gap.start_s).collect()))
}

/// Inputs other than one, with the other side of its pair left out: two sides are one source.
pub(super) fn others<'a>(
    channels: &'a [Channel],
    idx: usize,
) -> impl Iterator<Item = usize> + Clone + 'a {
    (0..channels.len()).filter(move |&other| {
        other != idx
            && channels[other].is_raw_input()
            && channels[other].partner.as_deref() != Some(channels[idx].id.as_str())
    })
}

/// Whether another input gets louder at a moment.
pub(super) fn rises(measured: &Measured, other: usize, at_s: f64, by_db: f64) -> bool {
    rise_db(&measured.common[other].levels.peak, at_s).is_some_and(|rise_db| rise_db >= by_db)
}

/// Bangs that most other inputs don't share, behind which only this channel's floor is another.
fn plug_pops(channels: &[Channel], measured: &Measured, idx: usize) -> Events {
    let channel = &channels[idx];
    let family = channel.role.family();
    if !channel.is_raw_input() || family == Family::Drums {
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
