//! Facts about knocks and rustle: what a microphone hears by itself while its source rests.
//!
//! Takes what the meters gave and what the other channels do at the same moment, fills in the channels. Never counts what many inputs
//! hear.

use rayon::prelude::*;

use super::facts::events;
use super::fault_facts::{others, rises};
use super::stream::Measured;
use crate::measure::thumps::{knocks_at_s, of_source, rustles};
use crate::reading::{Channel, Events};
use crate::session::{Role, Tap};
use crate::unit::Span;
use crate::unit::spans::{total_s, widened, without};

/// Channels whose microphones hands and cloth reach.
const HELD: [Role; 5] =
    [Role::Speech, Role::LeadVocal, Role::BackingVocal, Role::Choir, Role::Strings];

/// A pause begins so long after the source and ends so long before it, in seconds: plosives and breaths are the voice's.
const AFTER_VOICE_S: f64 = 0.7;

/// An input that gets louder by this hears it too, in dB; that many may, and that share of all.
const HEARS_DB: f64 = 6.0;
const MOST_HEAR: usize = 3;
const FEW_IN: usize = 4;

/// Softer than this under the loud level nobody hears it, in dB.
const HEARD_DB: f64 = 20.0;

/// Onsets of kick, bass and toms around a knock, in seconds re the onset.
const OF_DRUMS_S: [f64; 2] = [-0.030, 0.060];

/// Whether knocks and rustle are looked for in a role.
pub(super) fn is_held(role: Role) -> bool {
    HELD.contains(&role)
}

/// Fills in knocks and rustle; `thuds_s` are the hits of kick, bass and toms.
pub(super) fn fill(channels: &mut [Channel], measured: &Measured, thuds_s: &[f64]) {
    let found: Vec<Option<(Events, f64)>> = (0..channels.len())
        .into_par_iter()
        .map(|idx| thumps(channels, measured, thuds_s, idx))
        .collect();
    for (channel, thumps) in channels.iter_mut().zip(found) {
        (channel.microphone.thumps, channel.microphone.thump_pauses_s) = thumps.unzip();
    }
}

/// Knocks and rustle of a channel, and how long the pauses are in which they were looked for.
fn thumps(
    channels: &[Channel],
    measured: &Measured,
    thuds_s: &[f64],
    idx: usize,
) -> Option<(Events, f64)> {
    let channel = &channels[idx];
    let loud_dbfs = channel.loud_level_dbfs.ends()?[1];
    if !is_held(channel.role) || channel.is_line || channel.tap != Tap::Raw {
        return None;
    }
    let common = &measured.common[idx];
    let levels = &common.levels.power;
    let whole = Span::new(0.0, channel.duration_s);
    let pauses =
        without(&[whole], &widened(&of_source(&common.thirds, &channel.active), AFTER_VOICE_S));
    let is_own = |at_s: f64| {
        let others = others(channels, idx);
        let n_hear = others.clone().filter(|other| rises(measured, *other, at_s, HEARS_DB)).count();
        n_hear <= MOST_HEAR.min(others.count() / FEW_IN)
    };
    let is_loud = |at_s: f64| {
        let step = levels.step_at(at_s);
        step < levels.len() && levels.level_db(step) >= loud_dbfs - HEARD_DB
    };
    let is_drum = |at_s: f64| {
        let near = thuds_s.partition_point(|thud_s| *thud_s < at_s - OF_DRUMS_S[1]);
        thuds_s.get(near).is_some_and(|thud_s| *thud_s <= at_s - OF_DRUMS_S[0])
    };
    let in_pause = |at_s: f64| pauses.iter().any(|pause| pause.holds(at_s));
    let knocks = knocks_at_s(levels, common.above.as_ref()?);
    let knocks = knocks.into_iter().filter(|&at_s| in_pause(at_s) && !is_drum(at_s));
    let rustles = rustles(&common.thirds, &pauses).into_iter().map(|span| span.start_s);
    let mut at_s: Vec<f64> =
        knocks.chain(rustles).filter(|&at_s| is_loud(at_s) && is_own(at_s)).collect();
    at_s.sort_by(f64::total_cmp);
    Some((events(at_s), total_s(&pauses)))
}
