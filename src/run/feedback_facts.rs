//! Facts about feedback, from the lines that every channel holds.
//!
//! Says what is looked for in a channel, and brings together what was found. Never measures.

use super::meters::Common;
use super::segments::spans_of;
use crate::measure::howl::{Ear, HowlTrack, Look};
use crate::reading::{
    Channel, Feedback, Howl, Ring, Ringing, Segment, SegmentKind, WedgeDirection,
};
use crate::relate::howl::{Place, StageHowl, stage_howls};
use crate::relate::ring::{Listening, StageRing, stage_rings};
use crate::relate::wedge::direction;
use crate::session::is_same_name;
use crate::session::note::SessionNote;
use crate::session::{Family, Role, Session, SessionChannel, Side, Tap};
use crate::unit::spans::{both, total_s};
use crate::unit::{Fact, Span, Unmeasured};

/// What is looked for in a channel.
pub(super) fn look(channel: &SessionChannel) -> Look {
    match place(channel.role, channel.tap, channel.is_line) {
        None => Look::Away,
        // Both sides of a pair hear the same loop.
        Some(_) if channel.partner.is_some() && channel.side == Some(Side::Right) => Look::Howls,
        Some(place) => match ear(place, channel.role) {
            Some(Ear::Close) => Look::Rings,
            Some(Ear::Mixed | Ear::Afar) => Look::Apart,
            None => Look::Howls,
        },
    }
}

/// How a channel hears whoever talks; `None` where no rings are looked for.
fn ear(place: Place, role: Role) -> Option<Ear> {
    match (place, role.family()) {
        // Whether somebody may talk into it.
        (Place::Microphone, _) if role.is_single_voice() || role == Role::Unknown => {
            Some(Ear::Close)
        }
        (Place::Microphone, _) if role == Role::Choir => Some(Ear::Afar),
        (Place::Listener, Family::Mix) => Some(Ear::Mixed),
        (Place::Listener, _) => Some(Ear::Afar),
        _ => None,
    }
}

/// What a channel is to feedback; `None` where none reaches it, or it comes second hand.
fn place(role: Role, tap: Tap, is_line: bool) -> Option<Place> {
    let is_line = is_line || matches!(role, Role::ElectricGuitar | Role::Playback);
    match role.family() {
        family if family.only_hears_loops() => Some(Place::Listener),
        Family::Utility => None,
        _ if tap != Tap::Raw => None,
        _ if is_line => Some(Place::Line),
        _ => Some(Place::Microphone),
    }
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
    let ear = |idx: usize, place: Place| {
        let is_asked = matches!(look(&stated[idx]), Look::Rings | Look::Apart);
        ear(place, channels[idx].role).filter(|_| is_asked)
    };
    let listening: Vec<Listening<'_>> = placed
        .iter()
        .map(|&(idx, place)| Listening { place, ear: ear(idx, place), track: &common[idx].howl })
        .collect();
    let rings = stage_rings(&listening, &talk);
    let ringing = (0..placed.len())
        .filter_map(|at| {
            let own: Vec<Ring> = rings
                .iter()
                .filter(|one| one.source == at)
                .filter_map(|one| {
                    ring(one, one.heard_in.iter().map(|&at| id(at)).collect(), &howls)
                })
                .collect();
            Some(ringing(&channels[placed[at].0], listening[at].ear?, &talk, own))
        })
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

/// Why a hall in which no ring was found may have one.
const HALL_HIDES: Unmeasured = Unmeasured::Because(
    "resonances of the hall hide two of three rings from its microphone, so that finding none says nothing",
);

/// Rings of one channel while somebody talks.
fn ringing(channel: &Channel, ear: Ear, talk: &[Span], rings: Vec<Ring>) -> Ringing {
    let talk_s = match ear {
        Ear::Close => total_s(&both(&channel.active, talk)),
        Ear::Mixed | Ear::Afar => total_s(talk),
    };
    let is_hidden = rings.is_empty() && channel.role.family() == Family::Ambience;
    let not_measurable = match talk_s {
        _ if is_hidden && talk_s > 0.0 => Some(HALL_HIDES),
        0.0 => Some(Unmeasured::Because(Ringing::NO_TALK)),
        _ => None,
    };
    Ringing { channel: channel.id.clone(), talk_s, not_measurable, rings }
}

/// A ring without what howls: that rings too, and is told once.
fn ring(one: &StageRing, heard_in: Vec<String>, howls: &[Howl]) -> Option<Ring> {
    let hz = one.ring.hz;
    let is_howl = |at: Span| {
        howls
            .iter()
            .any(|howl| howl.span.shared(at).is_some() && (howl.frequency_hz - hz).abs() < SAME_HZ)
    };
    let at: Vec<Span> = one.ring.at.iter().copied().filter(|at| !is_howl(*at)).collect();
    (!at.is_empty()).then(|| Ring { frequency_hz: hz, heard_in, rings_s: total_s(&at), at })
}

/// A ring this near to a howl is that howl, in Hz.
const SAME_HZ: f64 = 5.0;
