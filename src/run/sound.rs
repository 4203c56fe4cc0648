//! What a channel's sound says about its role, from its meters.

use super::meters::Common;
use crate::measure::{crest, hits, tone};
use crate::session::{Role, RoleSource, SessionChannel, Settled, Sound, reconcile};
use crate::unit::Span;

/// Gaps that are pauses of a talker or singer, in seconds: shorter ones lie within words, longer ones between songs.
const PAUSE_S: std::ops::Range<f64> = 0.3..3.0;

/// The role that name and sound settle on. `None` where it is stated, where the sound is no source's own, or where it
/// gave too little to hear.
pub(super) fn settle(
    channel: &SessionChannel,
    common: &Common,
    active: &[Span],
    duration_s: f64,
) -> Option<Settled> {
    if channel.role_source == RoleSource::Stated
        || !(channel.role.is_input() || channel.role == Role::Unknown)
    {
        return None;
    }
    let crest_db = crest::active_db(&common.levels, active).ok()?;
    let tone = tone::tone(&common.thirds, active).ok()?;
    let active_s: f64 = active.iter().map(|span| span.length_s()).sum();
    let hits = hits::hits(&common.levels.peak, active);
    let hits_per_s = hits::hits_per_s(&hits, active).ok()?;
    let band_db = std::array::from_fn(|band| tone.share_db(band).ok());
    let gaps_s: f64 = active
        .windows(2)
        .map(|pair| pair[1].start_s - pair[0].end_s)
        .filter(|gap_s| PAUSE_S.contains(gap_s))
        .sum();
    let sound = Sound {
        band_db,
        crest_db,
        hits_per_s,
        active_share: (active_s / duration_s.max(1e-9)).min(1.0),
        is_line_like: channel.is_line,
        pause_share: gaps_s / (gaps_s + active_s),
    };
    Some(reconcile(&channel.name_role, &sound))
}
