//! What the microphones share: chosen minutes are read again and their sources told apart, then the whole recording is
//! followed with what was learnt.
//!
//! Takes when sources seem to sound by their levels, gives when they do and how loud each is in the others' microphones.
//! Knows the order of the steps, computes nothing itself.

use super::feed::Feed;
use super::kindred::{Kindred, TwinMeters, suspects};
use super::meters::Native;
use super::stream::{Recorder, places, read_all, read_stretch};
use super::timed::{Timed, masks, time, wanted};
use super::views::{self, Opposite};
use super::{sample_at, samples};
use crate::measure::clipping::JOIN_S;
use crate::relate::activity::Activity;
use crate::relate::alike::Heard;
use crate::relate::bleed::{Bleed, Powers, Turns, bleeds};
use crate::relate::cast::{Candidate, Cast};
use crate::relate::energies::Energies;
use crate::relate::excess::{self, Gate, Shown, Tails, excess_db};
use crate::relate::follow::{Followed, Follower};
use crate::relate::grid::Grid;
use crate::relate::material::material;
use crate::relate::separation::{Bands, separate};
use crate::relate::sounding::{clear, top_power};
use crate::relate::spectrogram::{Spectrogram, SpectrogramMeter, Transform};
use crate::relate::way::ways;
use crate::session::SessionChannel;
use crate::unit::Span;

use rayon::prelude::*;

/// Seconds that are looked at closely: more of them changed little in trials.
const MOST_S: f64 = 150.0;

/// Largest share of the frames that is left out for the flat tops of one channel.
const MOST_LEFT_OUT: f64 = 0.1;

/// Fewest sources between which anything can be shared.
const FEWEST: usize = 2;

/// What the microphones share.
pub(super) struct Shared {
    /// Channels that are the own microphones of the sources.
    pub(super) references: Vec<usize>,
    /// Spill of each source in each microphone that is not its own.
    pub(super) bleeds: Vec<Bleed>,
    /// Channels that were found to hold one source.
    pub(super) kindred: Vec<Kindred>,
    /// Stereo pairs that hear the stage from opposite sides.
    pub(super) opposite: Vec<Opposite>,
    /// How sources arrive, for the pairs that could be timed.
    pub(super) timed: Vec<Timed>,
    /// When own sources sound, for the channels that could be followed.
    pub(super) followed: Vec<Followed>,
    /// From a followed frame to the next, in seconds.
    pub(super) hop_s: f64,
}

/// What is known before.
pub(super) struct Known<'a> {
    /// A candidate a channel.
    pub(super) candidates: &'a [Candidate],
    /// Channels that stand on one source.
    pub(super) kin: &'a [(usize, usize)],
    /// When each source sounds by its level.
    pub(super) activities: &'a [Activity],
    /// What each channel sounds like.
    pub(super) heard: &'a [Heard],
    /// Stereo pairs of microphones, left then right.
    pub(super) stereo: &'a [(usize, usize)],
    /// Where each channel has flat tops.
    pub(super) flat_tops: &'a [Vec<Span>],
    /// Length of the session, in seconds.
    pub(super) duration_s: f64,
    /// Its rate, in Hz.
    pub(super) rate_hz: u32,
}

/// Reads chosen minutes and then everything again. `reopen` gives the recordings at their start.
///
/// `None` where too little sounds or too few sources do.
pub(super) fn share(
    known: &Known<'_>,
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
    progress: &dyn Fn(f64),
) -> Option<Shared> {
    let by_name = Cast::new(known.candidates, known.kin);
    if by_name.references.len() < FEWEST {
        return None;
    }
    let active: Vec<&[Span]> =
        by_name.references.iter().map(|&idx| known.activities[idx].spans.as_slice()).collect();
    let minutes = material(&active, known.duration_s, MOST_S);
    if minutes.is_empty() {
        return None;
    }
    let n_channels = known.candidates.len();
    let minutes = Minutes { spans: &minutes, is_wanted: is_wanted(known), reopen };
    let (mut short, kindred) = minutes.first_look(known)?;
    let kin = kindred.iter().map(|one| (one.alike.first, one.alike.second));
    let cast =
        Cast::new(known.candidates, &known.kin.iter().copied().chain(kin).collect::<Vec<_>>());
    if cast.references.len() < FEWEST {
        return None;
    }
    let flat_tops: Vec<&[Span]> =
        cast.references.iter().map(|&channel| known.flat_tops[channel].as_slice()).collect();
    leave_out(&mut short, &flat_tops);
    progress(0.1);
    let separated = separate(&short, &cast.references, None);
    let gates = gates(&short, &separated.power, &cast, known.candidates);
    let sounds = sounds(&short, &separated.power, &gates, &cast, known);
    progress(0.3);
    let hop_s = short.grid().hop_s();
    let frames = Frames { grid: short.grid().clone(), stretches: short.stretches().to_vec() };
    // Let go while the others are held, and read again: the minutes are few, and two grids beside each other were the peak of memory.
    drop(short);
    let energies = |grid| minutes.energies(grid, &cast, &flat_tops, &sounds, &frames);
    let long = energies(Grid::long(known.rate_hz))?;
    let middle = energies(Grid::middle(known.rate_hz))?;
    let short = minutes.spectra_without(frames.grid, &flat_tops)?;
    progress(0.5);
    let turns = Turns::new(&sounds, hop_s);
    let powers = Powers { spectrogram: &short, sources: &separated.power, gates: &gates };
    let bleeds = bleeds(&cast.mics, &cast.references, &long, &middle, &powers, &turns);
    let wanted = wanted(&cast, &bleeds);
    let masks = masks(&short, &separated.power, &cast, &long, &wanted, &sounds);
    let opposite = views::opposite(known.stereo, &short, &separated, &sounds);
    let ends: Vec<(usize, usize)> =
        wanted.iter().map(|one| (one.source, cast.mics[one.mic].channel)).collect();
    let ways = ways(&short, &cast.references, &separated.demix, &sounds, &ends);
    let timed = time(masks, ways, minutes.spans, &short, reopen()?, n_channels);
    progress(0.6);
    let known_gates: Vec<Gate> = gates.into_iter().flatten().collect();
    let transform = Transform::new(short.grid().clone());
    drop(short);
    let follower =
        Follower::new(transform, n_channels, &cast.references, &separated.demix, known_gates);
    let followed = follow(follower, reopen()?, n_channels, known, progress);
    Some(Shared { references: cast.references, bleeds, kindred, opposite, timed, followed, hop_s })
}

/// Where each channel has flat tops: an event is taken to last as long as may lie between two tops of one.
pub(super) fn flat_tops(channels: &[SessionChannel], native: &[Native]) -> Vec<Vec<Span>> {
    let spans = |(channel, native): (&SessionChannel, &Native)| {
        let at_s = native.flat_tops.at_s.iter().map(|at_s| channel.start_s + at_s);
        at_s.map(|at_s| Span::new(at_s, at_s + JOIN_S)).collect()
    };
    channels.iter().zip(native).map(spans).collect()
}

/// Leaves out the frames in which channels have flat tops; not those of a channel that has them all the time.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
fn leave_out(spectrogram: &mut Spectrogram, flat_tops: &[&[Span]]) {
    let most = MOST_LEFT_OUT * spectrogram.n_frames() as f64;
    for spans in flat_tops {
        let frames = spectrogram.frames_within(spans);
        if frames.len() as f64 <= most {
            spectrogram.leave_out(&frames);
        }
    }
}

/// The channels whose spectra are looked at: inputs that are heard, and stereo pairs of microphones.
fn is_wanted(known: &Known<'_>) -> Vec<bool> {
    let in_pair = |idx| known.stereo.iter().any(|&(left, right)| idx == left || idx == right);
    let candidates = known.candidates.iter().enumerate();
    candidates.map(|(idx, candidate)| candidate.is_heard || in_pair(idx)).collect()
}

/// The chosen minutes. They are read again for each grid: spectra on all of them would stand beside each other in memory.
struct Minutes<'a> {
    spans: &'a [Span],
    is_wanted: Vec<bool>,
    reopen: &'a dyn Fn() -> Option<Vec<Recorder>>,
}

impl Minutes<'_> {
    /// Spectra on the short grid, and which channels hold one source.
    fn first_look(&self, known: &Known<'_>) -> Option<(Spectrogram, Vec<Kindred>)> {
        let suspects = suspects(known.candidates, known.kin);
        let mut twins = TwinMeters::new(&suspects, self.is_wanted.len(), known.rate_hz);
        let short = self.spectra(Grid::short(known.rate_hz), Some(&mut twins))?;
        Some((short, twins.finish(known.heard)))
    }

    /// Spectra on a grid without the frames that flat tops spoil.
    fn spectra_without(&self, grid: Grid, flat_tops: &[&[Span]]) -> Option<Spectrogram> {
        let mut spectrogram = self.spectra(grid, None)?;
        leave_out(&mut spectrogram, flat_tops);
        Some(spectrogram)
    }

    /// Spectra on a grid; `twins` hear the minutes too.
    fn spectra(&self, grid: Grid, mut twins: Option<&mut TwinMeters>) -> Option<Spectrogram> {
        let (rate_hz, n_channels) = (grid.rate_hz(), self.is_wanted.len());
        let mut meter = SpectrogramMeter::of(grid, self.is_wanted.clone());
        read_again(self.spans, (self.reopen)()?, n_channels, rate_hz, |_, begins, planes| {
            if let Some(start_s) = begins {
                meter.begin(start_s);
            }
            meter.push(planes);
            if let Some(twins) = &mut twins {
                twins.push(begins.map(|start_s| samples(start_s, rate_hz)), planes);
            }
        });
        Some(meter.finish())
    }

    /// How loud each source is in each microphone, by spectra on a grid; `sounds` are frames of the short one.
    fn energies(
        &self,
        grid: Grid,
        cast: &Cast,
        flat_tops: &[&[Span]],
        sounds: &[Vec<bool>],
        short: &Frames,
    ) -> Option<Energies> {
        let spectrogram = self.spectra_without(grid, flat_tops)?;
        let presence: Vec<Vec<f32>> =
            sounds.iter().map(|sounds| present(sounds, short, &spectrogram)).collect();
        let separation = separate(&spectrogram, &cast.references, Some(&presence));
        Some(Energies::new(&spectrogram, &separation, &presence, &cast.mics))
    }
}

/// Reads the chosen minutes: gives the number of the stretch, its begin in seconds with its first block, and the planes.
pub(super) fn read_again(
    minutes: &[Span],
    recorders: Vec<Recorder>,
    n_channels: usize,
    rate_hz: u32,
    mut each: impl FnMut(usize, Option<f64>, &[&[f32]]) + Send,
) {
    let places = places(&recorders, n_channels);
    let mut feeds: Vec<Feed> = recorders.into_iter().map(|recorder| recorder.feed).collect();
    for (stretch, minute) in minutes.iter().enumerate() {
        let mut begins = Some(minute.start_s);
        let n_samples = samples(minute.length_s(), rate_hz);
        let starts = vec![sample_at(minute.start_s, rate_hz); feeds.len()];
        read_stretch(&mut feeds, &places, &starts, n_samples, rate_hz, |planes| {
            each(stretch, begins.take(), planes);
        });
    }
}

/// A gate for each microphone that could be fitted; none for channels that come by wire.
fn gates(
    short: &Spectrogram,
    sources: &Bands,
    cast: &Cast,
    candidates: &[Candidate],
) -> Vec<Option<Gate>> {
    let listeners = cast.listeners(candidates);
    let fitted: Vec<usize> = (0..listeners.len()).filter(|&idx| listeners[idx].is_some()).collect();
    let wanted: Vec<_> = listeners.iter().flatten().cloned().collect();
    let powers: Vec<Vec<Vec<f32>>> =
        wanted.par_iter().map(|listener| short.band_power(listener.channel)).collect();
    let mut gates: Vec<Option<Gate>> = vec![None; cast.mics.len()];
    let found = excess::fit(sources, &powers, &wanted, short.grid());
    for (place, gate) in fitted.into_iter().zip(found) {
        gates[place] = gate;
    }
    gates
}

/// Whether each source sounds in each frame of the minutes: by its gate, or by its level where there is none.
fn sounds(
    short: &Spectrogram,
    sources: &Bands,
    gates: &[Option<Gate>],
    cast: &Cast,
    known: &Known<'_>,
) -> Vec<Vec<bool>> {
    let of_reference = |&channel: &usize| {
        let gate = gates.iter().flatten().find(|gate| gate.listener().channel == channel);
        let Some(gate) = gate else {
            return by_level(&known.activities[channel].spans, short);
        };
        let mic = short.band_power(channel);
        let mut tails = Tails::new(cast.references.len(), short.grid().hop_s());
        let shown: Vec<Shown> = (0..short.n_frames())
            .map(|frame| {
                let power = |band: usize, source: usize| sources[band][source][frame];
                gate.shown(|band| mic[band][frame], &tails.next(power))
            })
            .collect();
        let own: Vec<f64> = shown.iter().map(|one| f64::from(one.own)).collect();
        let top = top_power(&own);
        clear(gate.listener().manner, &excess_db(&shown), &own, top)
    };
    cast.references.par_iter().map(of_reference).collect()
}

/// Whether the middle of each frame lies in a span.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
fn by_level(spans: &[Span], short: &Spectrogram) -> Vec<bool> {
    let hop_s = short.grid().hop_s();
    let stretches = short.stretches();
    let is_inside = |at_s: f64| spans.iter().any(|s| s.start_s <= at_s && at_s < s.end_s);
    (0..short.n_frames())
        .map(|frame| {
            let (first, start_s) = stretches[stretches.partition_point(|s| s.0 <= frame) - 1];
            is_inside(start_s + (frame - first + 1) as f64 * hop_s)
        })
        .collect()
}

/// Where the frames of a spectrogram lie.
struct Frames {
    grid: Grid,
    /// First frame and begin of each stretch.
    stretches: Vec<(usize, f64)>,
}

/// Share of each frame of another spectrogram of the same minutes in which a source sounds, weighted by its window.
fn present(sounds: &[bool], short: &Frames, other: &Spectrogram) -> Vec<f32> {
    let (from, to) = (&short.grid, other.grid());
    let (n_inside, n_step) = ((to.frame() - from.frame()) / from.hop() + 1, to.hop() / from.hop());
    // Middles of the short frames on the longer window.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        reason = "weights of a few frames"
    )]
    let weights: Vec<f32> = (0..n_inside)
        .map(|idx| {
            let middle = (idx * from.hop() + from.frame() / 2) as f64 / to.frame() as f64;
            (0.5 - 0.5 * (std::f64::consts::TAU * middle).cos()).powi(2) as f32
        })
        .collect();
    let sum: f32 = weights.iter().sum();
    let mut present = Vec::with_capacity(other.n_frames());
    let stretches = other.stretches();
    for (idx, &(first, _)) in stretches.iter().enumerate() {
        let end = stretches.get(idx + 1).map_or(other.n_frames(), |next| next.0);
        let start = short.stretches[idx].0;
        for frame in 0..end - first {
            let at = start + frame * n_step;
            let inside = sounds.iter().skip(at).zip(&weights);
            let share: f32 = inside.filter(|(sounds, _)| **sounds).map(|(_, w)| w).sum();
            present.push(share / sum);
        }
    }
    present
}

/// The whole recording through the follower.
fn follow(
    mut follower: Follower,
    recorders: Vec<Recorder>,
    n_channels: usize,
    known: &Known<'_>,
    progress: &dyn Fn(f64),
) -> Vec<Followed> {
    let n_all = samples(known.duration_s, known.rate_hz);
    #[expect(clippy::cast_precision_loss, reason = "only shown")]
    let done = |n_done: usize| progress(0.6 + 0.4 * (n_done as f64 / n_all.max(1) as f64).min(1.0));
    read_all(recorders, n_channels, |planes| follower.push(planes), &done);
    follower.finish()
}
