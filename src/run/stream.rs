//! The one pass over the recordings: synchronous blocks of all channels through all meters.
//!
//! Takes the recorders of a session, gives what every meter measured. While one block is measured the next is decoded.
//! The result does not depend on the number of threads: each meter sees its blocks in order, and nothing is summed
//! across meters. Memory depends on the channels and on the few bytes a second of the traces, not on the length.

use rayon::prelude::*;

use super::feed::{Feed, Portion};
use super::kin::{Kin, KinMeters};
use super::meters::{Common, CommonMeters, Native, NativeMeters};
use super::queue::{self, Piece};
use super::room::{RoomMeters, RoomSound};
use crate::dsp::Group;
use crate::dsp::group::MAX_CHANNELS;
use crate::measure::howl::Look;
use crate::measure::hum;
use crate::unit::Unmeasured;

/// Session samples in a block: long enough to keep threads busy, short enough that 32 channels take 4 MB.
pub(super) const BLOCK_FRAMES: usize = 32_768;

/// A recorder's files with the channels that its planes are.
pub(super) struct Recorder {
    pub(super) feed: Feed,
    pub(super) rate_hz: u32,
    /// Session channel of each plane; `None` where the plane is left out.
    pub(super) channels: Vec<Option<usize>>,
}

/// What is measured of a channel beside what is measured of all.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    /// Whether the details of voices are worth measuring.
    pub(super) may_be_voice: bool,
    /// Whether its level without rumble is: by that sources without low notes are followed, and knocks are known.
    pub(super) wants_above: bool,
    /// What is looked for of feedback.
    pub(super) look: Look,
}

/// What the pass gave.
pub(super) struct Measured {
    /// A result a channel, in session order.
    pub(super) common: Vec<Common>,
    /// The main mix summed to mono, `(L+R)/2`, where it has two sides.
    pub(super) mid: Option<Common>,
    /// A result a channel, in session order.
    pub(super) native: Vec<Native>,
    /// What pairs of channels say.
    pub(super) kin: Kin,
    /// What room microphones say.
    pub(super) rooms: Vec<RoomSound>,
    /// Length of each channel's recording, in seconds, in session order.
    pub(super) lengths_s: Vec<f64>,
    /// What went wrong or was repaired on the way, one sentence each.
    pub(super) warnings: Vec<String>,
}

/// Session channels that share a set of meters.
struct Set<M> {
    channels: Vec<usize>,
    meters: M,
}

/// A plane of a recorder.
pub(super) type Place = (usize, usize);

/// Streams everything through the meters. `wanted` has one entry a channel, `main` are the sides of a stereo mix; `progress` is told how
/// many session samples are done.
pub(super) fn stream(
    recorders: Vec<Recorder>,
    session_hz: u32,
    wanted: &[Wanted],
    main: Option<[usize; 2]>,
    mut kin: KinMeters,
    mut rooms: Vec<RoomMeters>,
    progress: &(dyn Fn(u64) + Sync),
) -> Measured {
    let places = places(&recorders, wanted.len());
    // The middle of the mix is one more channel behind the others: a set has room for it more often than not.
    let of_mid = main.map(|_| Wanted { may_be_voice: false, wants_above: false, look: Look::Away });
    let with_mid: Vec<Wanted> = wanted.iter().copied().chain(of_mid).collect();
    let mut common = common_sets(&with_mid, session_hz);
    let mut native = native_sets(&recorders);
    let rates_hz: Vec<u32> = recorders.iter().map(|recorder| recorder.rate_hz).collect();
    let mut feeds: Vec<Feed> = recorders.into_iter().map(|recorder| recorder.feed).collect();
    let mut block = next_block(&mut feeds);
    let mut n_done = 0;
    while let Some(portions) = block {
        let planes = planes(&portions, &places);
        let mid = main.map(|sides| middle(sides.map(|side| planes[side])));
        let with_mid: Vec<&[f32]> = planes.iter().copied().chain(mid.as_deref()).collect();
        let native_planes: Vec<Vec<&[f32]>> = portions.iter().map(Portion::native).collect();
        let mut next = None;
        // What is read on may wait for a disk: it comes first. Short pieces come last.
        let mut pieces: Vec<Piece<'_>> = vec![Box::new(|| next = next_block(&mut feeds))];
        for set in &mut common {
            let planes = set.channels.iter().map(|&channel| with_mid[channel]).collect();
            pieces.extend(set.meters.pieces(planes, session_hz));
        }
        pieces.extend(kin.pieces(&planes, session_hz));
        for room in &mut rooms {
            pieces.push(Box::new(|| room.push(&planes, session_hz)));
        }
        for set in &mut native {
            pieces.push(Box::new(|| push_native(set, &native_planes, &places)));
        }
        queue::run(pieces);
        drop(native_planes);
        take_back(&mut feeds, portions);
        block = next;
        n_done += BLOCK_FRAMES as u64;
        progress(n_done);
    }
    let lengths_s: Vec<f64> =
        places.iter().map(|&(recorder, _)| feeds[recorder].length_s(rates_hz[recorder])).collect();
    let mut common = in_order(common, CommonMeters::finish);
    let mid = main.and_then(|_| common.pop());
    for (common, length_s) in common.iter_mut().zip(&lengths_s) {
        common.levels.n_samples = n_samples(*length_s, session_hz);
        if *length_s < hum::NEEDS_S {
            let (have_s, need_s) = (*length_s, hum::NEEDS_S);
            common.hum = Err(Unmeasured::TooShort { have_s, need_s });
        }
    }
    Measured {
        common,
        mid,
        native: in_order(native, |(_, meters)| meters.finish()),
        kin: kin.finish(),
        rooms: rooms.into_iter().map(RoomMeters::finish).collect(),
        lengths_s,
        warnings: feeds.iter().flat_map(Feed::warnings).collect(),
    }
}

/// `(L+R)/2`.
fn middle([left, right]: [&[f32]; 2]) -> Vec<f32> {
    left.iter().zip(right).map(|(left, right)| 0.5 * (left + right)).collect()
}

/// Samples of a recording at the session's rate: silence before and after it is none of its own.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a length is not negative and far below 2^52 samples"
)]
fn n_samples(length_s: f64, session_hz: u32) -> u64 {
    (length_s * f64::from(session_hz)).round().max(1.0) as u64
}

/// Where each session channel's samples are.
pub(super) fn places(recorders: &[Recorder], n_channels: usize) -> Vec<Place> {
    let mut places = vec![None; n_channels];
    for (recorder_idx, recorder) in recorders.iter().enumerate() {
        for (plane, channel) in recorder.channels.iter().enumerate() {
            if let Some(channel) = channel {
                places[*channel] = Some((recorder_idx, plane));
            }
        }
    }
    places.into_iter().map(|place| place.expect("every channel has a recorder")).collect()
}

/// Meters at the session's rate, eight channels at a time: those that may be voices first and then those without low notes, so that few
/// sets measure what only some ask for, and none but the last is not full.
fn common_sets(wanted: &[Wanted], session_hz: u32) -> Vec<Set<CommonMeters>> {
    let mut channels: Vec<usize> = (0..wanted.len()).collect();
    channels.sort_by_key(|&channel| (!wanted[channel].may_be_voice, !wanted[channel].wants_above));
    let set = |some: &[usize]| {
        let wanted: Vec<Wanted> = some.iter().map(|&channel| wanted[channel]).collect();
        Set { channels: some.to_vec(), meters: CommonMeters::new(session_hz, &wanted) }
    };
    channels.chunks(MAX_CHANNELS).map(set).collect()
}

/// Meters at the files' rates: the channels of one recorder, eight at a time. The rate stands beside them.
fn native_sets(recorders: &[Recorder]) -> Vec<Set<(u32, NativeMeters)>> {
    let mut sets = Vec::new();
    for recorder in recorders {
        let channels: Vec<usize> = recorder.channels.iter().flatten().copied().collect();
        for some in channels.chunks(MAX_CHANNELS) {
            let meters = NativeMeters::new(recorder.rate_hz, some.len());
            sets.push(Set { channels: some.to_vec(), meters: (recorder.rate_hz, meters) });
        }
    }
    sets
}

/// Samples of each session channel in a block.
fn planes<'a>(portions: &'a [Portion], places: &[Place]) -> Vec<&'a [f32]> {
    let plane = |&(recorder, plane): &Place| portions[recorder].planes[plane].as_slice();
    places.iter().map(plane).collect()
}

/// Reads all recordings, block by block: gives a plane a channel. While one block is taken the next is decoded; `progress` is told how
/// many session samples are done.
pub(super) fn read_all(
    recorders: Vec<Recorder>,
    n_channels: usize,
    mut each: impl FnMut(&[&[f32]]) + Send,
    progress: &dyn Fn(usize),
) {
    let places = places(&recorders, n_channels);
    let mut feeds: Vec<Feed> = recorders.into_iter().map(|recorder| recorder.feed).collect();
    let mut n_done = 0;
    let done = || {
        n_done += BLOCK_FRAMES;
        progress(n_done);
    };
    pass_on(&mut feeds, &places, next_block, &mut each, done);
}

/// Reads a stretch of all recordings, block by block: gives a plane a channel. Each recording has its own first sample.
pub(super) fn read_stretch(
    feeds: &mut [Feed],
    places: &[Place],
    starts: &[i64],
    n_samples: usize,
    rate_hz: u32,
    mut each: impl FnMut(&[&[f32]]) + Send,
) {
    feeds.par_iter_mut().zip(starts).for_each(|(feed, &start)| feed.seek(start, rate_hz));
    let mut n_left = n_samples;
    let next = |feeds: &mut [Feed]| {
        let n_next = n_left.min(BLOCK_FRAMES);
        n_left -= n_next;
        (n_next > 0).then(|| portions(feeds, n_next))
    };
    pass_on(feeds, places, next, &mut each, || {});
}

/// Gives blocks to `each`, a plane a channel, as long as `next` reads any: while one block is taken the next is read. Calls `done` after
/// each.
fn pass_on(
    feeds: &mut [Feed],
    places: &[Place],
    mut next: impl FnMut(&mut [Feed]) -> Option<Vec<Portion>> + Send,
    each: &mut (impl FnMut(&[&[f32]]) + Send),
    mut done: impl FnMut(),
) {
    let mut block = next(feeds);
    while let Some(portions) = block {
        let planes = planes(&portions, places);
        let (following, ()) = rayon::join(|| next(feeds), || each(&planes));
        take_back(feeds, portions);
        block = following;
        done();
    }
}

/// The next frames of every recorder.
fn portions(feeds: &mut [Feed], n_frames: usize) -> Vec<Portion> {
    feeds.par_iter_mut().map(|feed| feed.next(n_frames)).collect()
}

/// The next portion of every recorder; `None` when all are over.
fn next_block(feeds: &mut [Feed]) -> Option<Vec<Portion>> {
    if feeds.iter().all(Feed::is_over) {
        return None;
    }
    let mut portions = portions(feeds, BLOCK_FRAMES);
    Feed::trim(&mut portions);
    Some(portions)
}

fn take_back(feeds: &mut [Feed], portions: Vec<Portion>) {
    for (feed, portion) in feeds.iter_mut().zip(portions) {
        feed.take_back(portion);
    }
}

fn push_native(
    set: &mut Set<(u32, NativeMeters)>,
    native_planes: &[Vec<&[f32]>],
    places: &[Place],
) {
    let of = |&channel: &usize| {
        let (recorder, plane) = places[channel];
        native_planes[recorder][plane]
    };
    let planes: Vec<&[f32]> = set.channels.iter().map(of).collect();
    let (rate_hz, meters) = &mut set.meters;
    meters.push(Group::new(&planes, *rate_hz));
}

/// Results of all sets in the order of the session's channels.
fn in_order<M: Send, R: Send>(sets: Vec<Set<M>>, finish: impl Fn(M) -> Vec<R> + Sync) -> Vec<R> {
    let mut results: Vec<(usize, R)> = sets
        .into_par_iter()
        .flat_map_iter(|set| set.channels.into_iter().zip(finish(set.meters)))
        .collect();
    results.sort_by_key(|(channel, _)| *channel);
    results.into_iter().map(|(_, result)| result).collect()
}
