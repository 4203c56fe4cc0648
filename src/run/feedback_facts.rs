//! Facts about feedback, from the lines that every channel holds.
//!
//! Says what is looked for in a channel, and brings together what was found. Never measures.

use super::meters::Common;
use super::segments::spans_of;
use crate::measure::howl::{HowlTrack, Look, near_rings};
use crate::reading::{
    Channel, Feedback, Howl, Ring, Ringing, Segment, SegmentKind, WedgeDirection,
};
use crate::relate::howl::{Place, StageHowl, stage_howls};
use crate::relate::wedge::direction;
use crate::session::is_same_name;
use crate::session::note::SessionNote;
use crate::session::{Family, Role, Session, SessionChannel, Tap};
use crate::unit::spans::{both, total_s};
use crate::unit::{Fact, Span};

/// What is looked for in a channel.
pub(super) fn look(channel: &SessionChannel) -> Look {
    match place(channel.role, channel.tap, channel.is_line) {
        Some(Place::Microphone) if talks(channel.role) => Look::Rings,
        Some(_) => Look::Howls,
        None => Look::Away,
    }
}

/// What a channel is to feedback; `None` where none reaches it, or it comes second hand.
fn place(role: Role, tap: Tap, is_line: bool) -> Option<Place> {
    let is_line = is_line || matches!(role, Role::ElectricGuitar | Role::Playback);
    match role.family() {
        Family::Mix | Family::Ambience => Some(Place::Listener),
        Family::Utility => None,
        _ if tap != Tap::Raw => None,
        _ if is_line => Some(Place::Line),
        _ => Some(Place::Microphone),
    }
}

/// Whether somebody may talk into it.
fn talks(role: Role) -> bool {
    role.is_single_voice() || role == Role::Unknown
}

/// Howls of the session, and rings in talk.
pub(super) fn feedback(
    session: &Session,
    channels: &[Channel],
    stated: &[SessionChannel],
    common: &[Common],
    segments: &[Segment],
) -> Feedback {
    // By the role that is settled, among those in which something was looked for.
    let of = |idx: usize| {
        let channel = &channels[idx];
        (look(&stated[idx]) != Look::Away)
            .then(|| place(channel.role, channel.tap, channel.is_line))?
    };
    let placed: Vec<(usize, Place)> =
        (0..channels.len()).filter_map(|idx| Some((idx, of(idx)?))).collect();
    let tracks: Vec<(Place, &HowlTrack)> =
        placed.iter().map(|&(idx, place)| (place, &common[idx].howl)).collect();
    let id = |at: usize| channels[placed[at].0].id.clone();
    let howl = |found: StageHowl| Howl {
        channel: id(found.source),
        heard_in: found.heard_in.iter().map(|&at| id(at)).collect(),
        span: Span::new(found.howl.start_s, found.howl.end_s),
        frequency_hz: found.howl.hz,
        peak_dbfs: found.howl.peak_dbfs,
        over_programme_db: found.howl.over_programme_db,
        growth_db_per_s: found.howl.growth_db_s,
        confidence: found.howl.confidence,
    };
    let howls: Vec<Howl> = stage_howls(&tracks).into_iter().map(howl).collect();
    let talk = spans_of(segments, SegmentKind::Talk);
    let ringing = placed
        .iter()
        .filter(|&&(idx, place)| {
            let is_asked = look(&stated[idx]) == Look::Rings;
            is_asked && place == Place::Microphone && talks(channels[idx].role)
        })
        .map(|&(idx, _)| ringing(&channels[idx], &common[idx].howl, &talk, &howls))
        .collect();
    let note = &session.note;
    let checked = note.stage.as_ref().and_then(|stage| stage.checked.as_deref());
    Feedback {
        looked_at: (0..placed.len()).map(id).collect(),
        howls,
        ringing,
        wedges: wedges(note, channels, stated),
        is_plot_checked: checked.is_some() && checked == session.date.as_deref(),
    }
}

/// The wedges of the plot as the microphones of those see them whom they serve.
fn wedges(
    note: &SessionNote,
    channels: &[Channel],
    session: &[SessionChannel],
) -> Vec<WedgeDirection> {
    let mut found = Vec::new();
    for wedge in note.stage.iter().flat_map(|stage| &stage.wedges) {
        let served = channels.iter().zip(session).filter(|(channel, _)| {
            !channel.is_line
                && channel.role.family() == Family::Voice
                && wedge.serves.iter().any(|name| is_same_name(name, &channel.name))
        });
        for (channel, stated) in served {
            let plotted = stated.note.pattern.zip(stated.note.position_m).zip(stated.note.axis);
            let Some(((pattern, at_m), axis)) = plotted else { continue };
            let Ok(seen) = direction(pattern, at_m, axis, wedge.position_m) else { continue };
            found.push(WedgeDirection {
                channel: channel.id.clone(),
                wedge: wedge.name.clone().unwrap_or_else(|| "a wedge".to_owned()),
                angle_deg: seen.angle_deg,
                level_db: Fact::sure(seen.level_db, PLOT),
            });
        }
    }
    found
}

/// How far a nominal pattern and a plot tell what a microphone hears.
const PLOT: f64 = 0.8;

/// Rings of one microphone while somebody talks into it. What howls rings too: it is told once.
fn ringing(channel: &Channel, track: &HowlTrack, talk: &[Span], howls: &[Howl]) -> Ringing {
    let own = both(&channel.active, talk);
    let is_howl = |ring_hz: f64, at: Span| {
        howls.iter().any(|howl| {
            howl.span.shared(at).is_some() && (howl.frequency_hz - ring_hz).abs() < SAME_HZ
        })
    };
    let rings = near_rings(track, talk).into_iter().filter_map(|ring| {
        let at: Vec<Span> = ring.at.iter().copied().filter(|at| !is_howl(ring.hz, *at)).collect();
        (!at.is_empty()).then(|| Ring { frequency_hz: ring.hz, rings_s: total_s(&at), at })
    });
    Ringing { channel: channel.id.clone(), talk_s: total_s(&own), rings: rings.collect() }
}

/// A ring this near to a howl is that howl, in Hz.
const SAME_HZ: f64 = 5.0;
