//! How sources arrive at the microphones that hear them too.
//!
//! Takes separated sources and how loud each is where, gives the arrivals of the loudest by another read of the chosen minutes.

use rayon::prelude::*;

use super::shared::read_again;
use super::stream::Recorder;
use crate::relate::arrival::{Arrival, ArrivalMeter, Mask};
use crate::relate::bleed::Bleed;
use crate::relate::cast::Cast;
use crate::relate::coherence::{Coherence, CoherenceMeter};
use crate::relate::energies::Energies;
use crate::relate::prevail;
use crate::relate::separation::Bands;
use crate::relate::spectrogram::Spectrogram;
use crate::unit::{Span, Unmeasured};

/// Intruders whose arrival is wanted whatever is known of their level, at most for each microphone, and the level above which any is, in
/// dB. Where a level is told, its arrival bears it out.
const MOST_INTRUDERS: usize = 4;
const FAINT_DB: f64 = -25.0;

/// Frames that place an arrival as well as more of them would.
const ENOUGH_FRAMES: usize = 300;

/// Frames between stretches in the masks of arrivals.
const APART: usize = 8;

/// How a source arrives at a second microphone, and how alike the two are.
pub(super) struct Timed {
    /// Channel of the source's own microphone.
    pub(super) source: usize,
    /// Channel of the other.
    pub(super) mic: usize,
    /// From the cells in which the source prevails.
    pub(super) arrival: Result<Arrival, Unmeasured>,
    /// From the phases of its way there.
    pub(super) way: Option<Arrival>,
    pub(super) coherence: Result<Coherence, Unmeasured>,
}

/// A source and a microphone whose arrival is wanted, by their places.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    pub(super) source: usize,
    /// Place of the source's own microphone among the microphones, and of the other.
    home: usize,
    pub(super) mic: usize,
}

/// The loudest intruders of each microphone and all whose level is told, and every other microphone on the same source.
pub(super) fn wanted(cast: &Cast, bleeds: &[Bleed]) -> Vec<Wanted> {
    let place = |channel: usize| cast.mics.iter().position(|mic| mic.channel == channel);
    let mut wanted = Vec::new();
    for (mic, one) in cast.mics.iter().enumerate() {
        let mut heard: Vec<(f64, bool, usize)> = bleeds
            .iter()
            .filter(|bleed| bleed.mic == one.channel)
            .filter_map(|bleed| {
                let (most_db, is_told) = bleed.most_db()?;
                Some((most_db, is_told, bleed.source))
            })
            .filter(|(most_db, ..)| *most_db > FAINT_DB)
            .collect();
        heard.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.cmp(&b.2)));
        let of_kin = one.own.filter(|&own| cast.references[own] != one.channel);
        let kit = one.kin.iter().copied();
        let is_wanted = |at: usize, is_told: bool| at < MOST_INTRUDERS || is_told;
        let sources = heard.into_iter().enumerate();
        let sources = sources
            .filter_map(|(at, (_, is_told, source))| is_wanted(at, is_told).then_some(source));
        for source in of_kin.into_iter().chain(sources).chain(kit) {
            let home = place(cast.references[source]);
            let is_new = !wanted.iter().any(|old: &Wanted| (old.source, old.mic) == (source, mic));
            if let Some(home) = home.filter(|_| is_new) {
                wanted.push(Wanted { source, home, mic });
            }
        }
    }
    wanted
}

/// Cells in which the source of each pair prevails in both its microphones.
pub(super) fn masks(
    short: &Spectrogram,
    sources: &Bands,
    cast: &Cast,
    energies: &Energies,
    wanted: &[Wanted],
    sounds: &[Vec<bool>],
) -> Vec<(usize, usize, Mask)> {
    let heard: Vec<Vec<Vec<f32>>> =
        cast.mics.par_iter().map(|mic| short.band_power(mic.channel)).collect();
    let mask = |one: &Wanted| {
        let source: Vec<&[f32]> = sources.iter().map(|band| band[one.source].as_slice()).collect();
        let cells = prevail::cells(&prevail::Pair {
            source: &source,
            home: &heard[one.home],
            mic: &heard[one.mic],
            gains: &energies.gains(one.source, one.home, one.mic),
            sounds: &sounds[one.source],
            disturbed: cast.mics[one.mic]
                .own
                .filter(|&own| own != one.source)
                .map(|own| sounds[own].as_slice()),
        });
        let cells = thinned(cells, short);
        // Stretches lie apart, so that no frame of one meets a cell of the next.
        let mut spread = Vec::with_capacity(cells.len() + short.stretches().len() * APART);
        for (idx, &(first, _)) in short.stretches().iter().enumerate() {
            let end = short.stretches().get(idx + 1).map_or(cells.len(), |next| next.0);
            spread.extend_from_slice(&cells[first..end]);
            spread.resize(spread.len() + APART, 0);
        }
        (cast.mics[one.home].channel, cast.mics[one.mic].channel, Mask::new(0, spread))
    };
    wanted.par_iter().map(mask).collect()
}

/// Cells without the frames that are left out, and with every second or fourth frame only where there are many.
fn thinned(mut cells: Vec<u32>, short: &Spectrogram) -> Vec<u32> {
    let is_left_out = |frame: usize| short.left_out().get(frame).copied().unwrap_or(false);
    for (frame, cell) in cells.iter_mut().enumerate() {
        // The frames in which arrivals are measured reach as far again.
        if (frame.saturating_sub(1)..=frame + 1).any(is_left_out) {
            *cell = 0;
        }
    }
    let n_chosen = cells.iter().filter(|&&cell| cell != 0).count();
    let step = match n_chosen / ENOUGH_FRAMES {
        0 | 1 => 1,
        2 | 3 => 2,
        _ => 4,
    };
    let others = cells.iter_mut().enumerate().filter(|(frame, _)| frame % step != 0);
    others.for_each(|(_, cell)| *cell = 0);
    cells
}

/// Arrivals and coherences of the pairs, by another read of the chosen minutes.
pub(super) fn time(
    masks: Vec<(usize, usize, Mask)>,
    ways: Vec<Option<Arrival>>,
    minutes: &[Span],
    short: &Spectrogram,
    recorders: Vec<Recorder>,
    n_channels: usize,
) -> Vec<Timed> {
    let rate_hz = short.grid().rate_hz();
    let pairs: Vec<(usize, usize)> = masks.iter().map(|pair| (pair.0, pair.1)).collect();
    let mut arrivals = ArrivalMeter::new(rate_hz, masks);
    let mut coherences = CoherenceMeter::new(rate_hz, n_channels, &pairs);
    read_again(minutes, recorders, n_channels, rate_hz, |stretch, begins, planes| {
        if begins.is_some() {
            let first = short.stretches()[stretch].0 + stretch * APART;
            arrivals.gap((first * short.grid().hop()) as u64);
            coherences.gap();
        }
        rayon::join(|| arrivals.push(planes), || coherences.push(planes));
    });
    pairs
        .into_iter()
        .zip(arrivals.finish())
        .zip(coherences.finish())
        .zip(ways)
        .map(|((((source, mic), arrival), coherence), way)| Timed {
            source,
            mic,
            arrival,
            way,
            coherence,
        })
        .collect()
}
