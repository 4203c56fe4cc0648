//! Conducts the stages of a review: opens the recordings, streams them through the meters, relates the channels, and
//! fills a reading.
//!
//! Only this module knows the order of the stages. It prints nothing and writes nothing.

mod aligned;
mod assemble;
mod axis_facts;
mod blank;
mod calibrate;
mod clocks;
mod excerpts;
mod facts;
mod fault_facts;
mod feed;
mod feedback_facts;
mod gain_facts;
mod idle_facts;
mod kin;
mod kindred;
mod main_facts;
mod meters;
mod mix_facts;
mod mixed;
mod open_facts;
mod pair_facts;
mod queue;
mod recorders;
mod refine;
mod room;
mod room_facts;
mod segments;
mod shared;
mod song_facts;
mod sound;
mod spill_facts;
mod stage_facts;
mod start_facts;
mod stream;
mod tap_facts;
mod thump_facts;
mod timed;
mod treble_facts;
mod views;
mod wedge_facts;
mod wire;

use crate::audio::{Takes, TrustHeader};
use crate::error::Error;
use crate::reading::{Reading, SegmentKind};
use crate::session::{Family, Role, Session, SessionChannel, highpass_corner_hz};

pub use excerpts::{Excerpt, excerpt};

use feed::Feed;
use stream::{Recorder, Wanted};

/// Shares of the work that the first pass and what microphones share take, about.
const FIRST_PASS: f64 = 0.3;
const SHARING: f64 = 0.35;

/// Reads a whole session: every sample through the meters of its channel, chosen minutes to tell the sources apart, once more
/// to follow them, and once more beside the main mix.
///
/// `progress` is told the share that is done, 0 to 1. A recording that can't be read becomes a warning; the rest goes on.
///
/// # Errors
///
/// If none of the recordings can be read.
pub fn read(
    session: &Session,
    trust: TrustHeader,
    progress: &(dyn Fn(f64) + Sync),
) -> Result<Reading, Error> {
    let mut opened = open(session, trust)?;
    let wanted: Vec<Wanted> = opened.channels.iter().map(wanted).collect();
    let kin = kin::KinMeters::new(&opened.channels, session.rate_hz);
    let n_frames = session.duration_s() * f64::from(session.rate_hz);
    let share_done = |n_done: u64| {
        #[expect(clippy::cast_precision_loss, reason = "only shown")]
        progress(if n_frames > 0.0 {
            FIRST_PASS * (n_done as f64 / n_frames).min(1.0)
        } else {
            0.0
        });
    };
    let mut warnings = opened.warnings;
    let rooms = room::meters(session, &opened.channels, trust, &mut warnings);
    let main = kin::main_sides(&opened.channels);
    let recorders = opened.recorders;
    let measured =
        stream::stream(recorders, session.rate_hz, &wanted, main, kin, rooms, &share_done);
    for warning in &measured.warnings {
        // The headers were read before: what they told is known.
        if !warnings.iter().any(|known| known.ends_with(warning.as_str())) {
            warnings.push(warning.clone());
        }
    }
    wire::check(&mut opened.channels, &measured);
    let listened = assemble::listen(&opened.channels, &measured);
    let candidates = assemble::candidates(&opened.channels, &listened.activities);
    let known = shared::Known {
        candidates: &candidates,
        kin: &listened.kin,
        activities: &listened.activities,
        heard: &listened.heard,
        stereo: &views::pairs(&opened.channels),
        flat_tops: &shared::flat_tops(&opened.channels, &measured.native),
        duration_s: listened.duration_s,
        rate_hz: session.rate_hz,
    };
    // What could be opened a moment ago is opened again; what has gone since leaves the rest as it is.
    let reopen = || open(session, trust).ok().map(|again| again.recorders);
    let shared = shared::share(&known, &reopen, &|share| progress(FIRST_PASS + SHARING * share));
    let settled =
        assemble::settle(session, &opened.channels, &measured, listened, shared.as_ref(), &reopen);
    let songs = settled.segments.iter().filter(|segment| segment.kind == SegmentKind::Song);
    let borders_s: Vec<f64> = songs.flat_map(|song| [song.span.start_s, song.span.end_s]).collect();
    let mixed = mixed::mixed(
        &mixed::Known {
            channels: &opened.channels,
            main: main_facts::sides(&opened.channels),
            activities: &settled.activities,
            thirds: &measured.common.iter().map(|common| &common.thirds).collect::<Vec<_>>(),
            levels: &measured.common.iter().map(|one| &one.levels.power).collect::<Vec<_>>(),
            borders_s: &borders_s,
            duration_s: settled.duration_s,
            rate_hz: session.rate_hz,
        },
        &reopen,
        &|share| progress(FIRST_PASS + SHARING + (1.0 - FIRST_PASS - SHARING) * share),
    );
    Ok(assemble::assemble(session, &opened.channels, measured, settled, shared, mixed, warnings))
}

/// The recordings of a session, ready to be streamed.
struct Opened {
    recorders: Vec<Recorder>,
    channels: Vec<SessionChannel>,
    warnings: Vec<String>,
}

fn open(session: &Session, trust: TrustHeader) -> Result<Opened, Error> {
    let mut warnings = session.warnings.clone();
    let mut channels = session.channels.clone();
    let mut recorders = Vec::new();
    let mut first_failure = None;
    for (take_idx, take) in session.takes.iter().enumerate() {
        let feed = Takes::new(take.parts.clone(), trust).and_then(|takes| {
            let lead_in = samples(take.start_s, session.rate_hz);
            Feed::new(&take.label, takes, session.rate_hz, lead_in).map_err(|cause| {
                Error::new(
                    "cannot resample",
                    &take.parts[0],
                    cause,
                    "record all channels at one usual rate, or leave the file out",
                )
            })
        });
        match feed {
            Ok(feed) => recorders.push((take_idx, feed, take)),
            Err(error) => {
                warnings.push(format!(
                    "`{}` is left out: {} ({})",
                    take.label, error.cause, error.hint
                ));
                leave_out(&mut channels, take_idx);
                first_failure.get_or_insert(error);
            }
        }
    }
    if let (true, Some(error)) = (channels.is_empty(), first_failure) {
        return Err(error);
    }
    let recorders = recorders
        .into_iter()
        .map(|(take_idx, feed, take)| Recorder {
            feed,
            rate_hz: take.rate_hz,
            channels: (0..take.n_channels).map(|plane| place(&channels, take_idx, plane)).collect(),
        })
        .filter(|recorder| recorder.channels.iter().any(Option::is_some))
        .collect();
    Ok(Opened { recorders, channels, warnings })
}

/// Takes the channels of a recording out; what points to others by place points to their new places.
fn leave_out(channels: &mut Vec<SessionChannel>, take_idx: usize) {
    let mut n_kept = 0;
    let places: Vec<Option<usize>> = channels
        .iter()
        .map(|channel| {
            let is_kept = channel.take_idx != take_idx;
            n_kept += usize::from(is_kept);
            is_kept.then(|| n_kept - 1)
        })
        .collect();
    channels.retain(|channel| channel.take_idx != take_idx);
    for channel in channels {
        channel.partner = channel.partner.and_then(|idx| places[idx]);
        channel.raw = channel.raw.and_then(|idx| places[idx]);
    }
}

/// The channel that a plane is.
fn place(channels: &[SessionChannel], take_idx: usize, plane_idx: usize) -> Option<usize> {
    channels
        .iter()
        .position(|channel| channel.take_idx == take_idx && channel.plane_idx == plane_idx)
}

fn wanted(channel: &SessionChannel) -> Wanted {
    let may_be_voice = may_be_voice(channel);
    Wanted {
        may_be_voice,
        wants_above: may_be_voice
            || !has_low_notes(channel)
            || may_be(channel, thump_facts::is_held),
        look: feedback_facts::look(channel),
    }
}

/// Whether a channel's own notes may lie where rumble does: it is followed by its whole level then.
fn has_low_notes(channel: &SessionChannel) -> bool {
    const LOWEST_CORNER_HZ: f64 = 80.0;
    let corner_hz = highpass_corner_hz(channel.role, &channel.name);
    channel.role == Role::Unknown
        || corner_hz.is_none_or(|corner_hz| corner_hz < LOWEST_CORNER_HZ)
        || channel.role.family() == Family::Drums
}

/// Whether the details of voices are worth measuring: the sound may yet show that an unclear name is a voice.
fn may_be_voice(channel: &SessionChannel) -> bool {
    may_be(channel, |role| matches!(role.family(), Family::Voice | Family::Unknown))
}

/// Whether a channel is, or by its name may be, of some kind.
fn may_be(channel: &SessionChannel, is_one: impl Fn(Role) -> bool) -> bool {
    is_one(channel.role) || channel.name_role.alternatives.iter().copied().any(is_one)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time is not negative and far below 2^52 samples"
)]
fn samples(seconds: f64, rate_hz: u32) -> usize {
    (seconds.max(0.0) * f64::from(rate_hz)).round() as usize
}

/// The sample of the session that stands at a time.
#[expect(clippy::cast_possible_truncation, reason = "far below 2^52 samples")]
fn sample_at(at_s: f64, rate_hz: u32) -> i64 {
    (at_s * f64::from(rate_hz)).round() as i64
}
