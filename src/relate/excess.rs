//! # What a microphone hears beyond the others' spill
//!
//! The power that the other sources do not account for, frame by frame.
//!
//! - **Formula:** power of the microphone by band, `P(b,t)`, fitted in frames where its own source rests by the other sources' separated
//!   powers, each direct and through two tails (leaky means of 80 ms and 300 ms), plus a constant, all factors at or above 0
//!   (multiplicative steps for the Kullback-Leibler divergence); excess `10 log10(sum w P / sum w prediction)` over the bands where the own
//!   source stands out most, mean of three frames; fit and rest in seven turns; a source that hardly rests is fitted beside the others over
//!   all frames instead
//! - **Unit:** dB per frame of 43 ms
//! - **Source:** own trials on simulated stages; the steps after Lee and Seung, "Algorithms for non-negative matrix factorization", NIPS 2000
//! - **Window:** fitted on chosen minutes, then followed through the whole recording
//! - **No value:** a source that never rests in the chosen minutes
//! - **Misleads when:** another source that has no microphone of its own sounds there

use rayon::prelude::*;

use super::grid::{Grid, N_BANDS};
use super::rest;
use super::separation::Bands;
use super::sounding::Manner;
use crate::dsp::dot::dot;
use crate::dsp::percentile::percentile;

/// Times of the tails, in seconds.
const TAILS_S: [f64; 2] = [0.08, 0.3];

/// Turns of fit and rest, and steps of the first and of the later fits.
const ROUNDS: usize = 7;
const STEPS: [usize; 2] = [25, 15];

/// Steps of the only fit of a source that hardly rests.
const BESIDE_STEPS: usize = 60;

/// Frames that a fit looks at: more of them change little.
const FIT_FRAMES: usize = 1200;

/// Frames that a fit needs.
const NEEDS_FRAMES: usize = 40;

/// Share of the frames that are the softest, and the mean of a noise re their border: the power of ten bins scatters by 3 dB.
const SOFTEST: f64 = 0.05;
const SOFTEST_TO_MEAN: f64 = 2.0;

/// Share of the bands that is left out: those where the own source stands out least.
const LEFT_OUT: f64 = 0.3;

/// A channel and the sources it may hear.
#[derive(Clone, Debug, PartialEq)]
pub struct Listener {
    /// The channel.
    pub channel: usize,
    /// Its own source; `None` where it has none of its own among the separated ones.
    pub own: Option<usize>,
    /// The sources that are not its own.
    pub others: Vec<usize>,
    /// The lowest band in which it is followed: rumble is no source.
    pub from_band: usize,
    /// How its own source sounds on.
    pub manner: Manner,
}

/// Leaky means of the sources' powers by band: what a hall still holds of them.
#[derive(Clone, Debug)]
pub struct Tails {
    keep: [f32; 2],
    /// Band, source, tail.
    held: Vec<Vec<[f32; 2]>>,
}

impl Tails {
    /// Tails at rest.
    #[expect(clippy::cast_possible_truncation, reason = "a factor below 1")]
    pub fn new(n_sources: usize, hop_s: f64) -> Self {
        Self {
            keep: TAILS_S.map(|tail_s| (-hop_s / tail_s).exp() as f32),
            held: vec![vec![[0.0; 2]; n_sources]; N_BANDS],
        }
    }

    /// What is held of a source in a band.
    fn of(&self, band: usize, source: usize) -> [f32; 2] {
        self.held[band][source]
    }

    /// Takes the powers of a frame by band and source, which the next frames hear as a tail; gives what sounds in this one.
    pub fn next(&mut self, power: impl Fn(usize, usize) -> f32) -> Moment {
        let n_sources = self.held.first().map_or(0, Vec::len);
        let mut cells = Vec::with_capacity(3 * N_BANDS * n_sources);
        for (band, sources) in self.held.iter_mut().enumerate() {
            for (source, held) in sources.iter_mut().enumerate() {
                let now = power(band, source);
                cells.extend([now, held[0], held[1]]);
                for (held, keep) in held.iter_mut().zip(self.keep) {
                    *held = keep * *held + (1.0 - keep) * now;
                }
            }
        }
        Moment { n_sources, cells }
    }
}

/// What the sources give in a frame: the power of each by band, and its tails.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    n_sources: usize,
    /// Band, source, then power, short tail and long tail.
    cells: Vec<f32>,
}

impl Moment {
    /// All that may be heard in a band.
    fn band(&self, band: usize) -> &[f32] {
        &self.cells[3 * self.n_sources * band..][..3 * self.n_sources]
    }
}

/// How a band of a microphone follows the other sources.
#[derive(Clone, Debug)]
struct Band {
    band: usize,
    weight: f32,
    /// Bins of the whole spectrum in the band: what its mean power counts in the level.
    size: f32,
    /// Direct, short tail and long tail of each source; 0 for those that are not among the others.
    factors: Vec<[f32; 3]>,
    constant: f32,
}

/// How a microphone follows the sources that are not its own.
#[derive(Clone, Debug)]
pub struct Gate {
    listener: Listener,
    /// All bands in which anything was heard; those without weight say nothing of activity.
    bands: Vec<Band>,
}

/// What a frame shows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shown {
    /// Weighted power of the microphone.
    pub heard: f32,
    /// Weighted power that the other sources explain.
    pub explained: f32,
    /// Power of the own source.
    pub own: f32,
}

impl Gate {
    /// The channel and its sources.
    pub fn listener(&self) -> &Listener {
        &self.listener
    }

    /// What a frame shows: `mic` is the power by band, `moment` what the sources give.
    pub fn shown(&self, mic: impl Fn(usize) -> f32, moment: &Moment) -> Shown {
        let mut shown = Shown::default();
        for band in &self.bands {
            let heard = mic(band.band);
            let cells = moment.band(band.band);
            let explained = band.constant + dot(band.factors.as_flattened(), cells);
            shown.heard += band.weight * heard;
            shown.explained += band.weight * explained;
            if band.band < self.listener.from_band {
                continue;
            }
            shown.own += band.size
                * match self.listener.own {
                    Some(own) => cells[3 * own],
                    None => (heard - explained).max(0.0),
                };
        }
        shown
    }

    /// Power gain of another source into this microphone in a band, with its tails.
    pub fn gain(&self, band: usize, source: usize) -> f64 {
        let of_band = self.bands.iter().find(|fit| fit.band == band);
        of_band.map_or(0.0, |fit| fit.factors[source].iter().map(|&x| f64::from(x)).sum())
    }
}

/// Excess of the microphone over what the others explain, in dB, mean of three frames.
pub fn excess_db(shown: &[Shown]) -> Vec<f64> {
    (0..shown.len())
        .map(|at| {
            let near = &shown[at.saturating_sub(1)..(at + 2).min(shown.len())];
            let sum = |pick: fn(&Shown) -> f32| near.iter().map(|one| f64::from(pick(one))).sum();
            let (heard, explained): (f64, f64) = (sum(|one| one.heard), sum(|one| one.explained));
            10.0 * ((heard + 1e-20) / (explained + 1e-20)).log10()
        })
        .collect()
}

/// Fits every microphone; `None` for one whose own source never rests. `mics` holds a microphone's power by band and frame.
///
/// # Panics
///
/// If there is not one microphone for each listener.
pub fn fit(
    sources: &Bands,
    mics: &[Vec<Vec<f32>>],
    listeners: &[Listener],
    grid: &Grid,
) -> Vec<Option<Gate>> {
    assert_eq!(mics.len(), listeners.len(), "one microphone for each listener");
    let tails = tails_over_time(sources, grid.hop_s());
    #[expect(clippy::cast_precision_loss, reason = "counts of bins are small")]
    let sizes: Vec<f32> = (0..N_BANDS).map(|band| grid.n_in_band(band) as f32).collect();
    listeners
        .par_iter()
        .zip(mics)
        .map(|(listener, mic)| {
            let most: Vec<f32> = mic.iter().map(|band| most_constant(band)).collect();
            let sizes = &sizes;
            fit_one(&Heard { sources, tails: &tails, mic, most: &most, listener, sizes })
        })
        .collect()
}

/// Per band, source and tail: what is held in each frame.
type HeldTails = Vec<Vec<[Vec<f32>; 2]>>;

fn tails_over_time(sources: &Bands, hop_s: f64) -> HeldTails {
    let n_frames = sources.first().and_then(|band| band.first()).map_or(0, Vec::len);
    let n_sources = sources.first().map_or(0, Vec::len);
    let mut tails = Tails::new(n_sources, hop_s);
    let mut all: HeldTails = vec![vec![[Vec::new(), Vec::new()]; n_sources]; N_BANDS];
    (0..n_frames).for_each(|frame| {
        for (band, of_band) in all.iter_mut().enumerate() {
            for (source, held) in of_band.iter_mut().enumerate() {
                let now = tails.of(band, source);
                held.iter_mut().zip(now).for_each(|(held, now)| held.push(now));
            }
        }
        tails.next(|band, source| sources[band][source][frame]);
    });
    all
}

/// A microphone and everything it may hear, over time.
#[derive(Clone, Copy)]
struct Heard<'a> {
    sources: &'a Bands,
    tails: &'a HeldTails,
    mic: &'a [Vec<f32>],
    /// The largest constant that each band may hold.
    most: &'a [f32],
    listener: &'a Listener,
    sizes: &'a [f32],
}

impl Heard<'_> {
    fn n_frames(&self) -> usize {
        self.mic.first().map_or(0, Vec::len)
    }

    /// Power of the own source over all bands; of the microphone where it has none.
    fn own(&self) -> Vec<f64> {
        let of_band = |band: usize| match self.listener.own {
            Some(own) => &self.sources[band][own],
            None => &self.mic[band],
        };
        let sum = |frame: usize| {
            let bands = self.listener.from_band..N_BANDS;
            bands.map(|band| f64::from(self.sizes[band] * of_band(band)[frame])).sum()
        };
        (0..self.n_frames()).map(sum).collect()
    }

    /// Direct power, short and long tail of each other source in a band, one after the other.
    fn rows(&self, band: usize) -> impl Iterator<Item = &[f32]> {
        self.listener.others.iter().flat_map(move |&source| {
            let [short, long] = &self.tails[band][source];
            [self.sources[band][source].as_slice(), short, long]
        })
    }
}

/// The others fitted beside the own source over all frames, and the frames in which it rests by that: for one that hardly rests. Where it
/// was fitted in its few soft frames, the others would be taken to hold it.
fn fit_beside(heard: &Heard<'_>, own: usize, power: &[f64]) -> (Gate, Vec<bool>) {
    let mut beside = heard.listener.clone();
    beside.others.push(own);
    let all = Heard { listener: &beside, ..*heard };
    let every: Vec<usize> = (0..heard.n_frames()).collect();
    let some: Vec<usize> =
        every.iter().copied().step_by(every.len().div_ceil(FIT_FRAMES).max(1)).collect();
    let bands = (0..N_BANDS)
        .filter_map(|band| fit_band(&all, band, &some, None, BESIDE_STEPS))
        .map(|mut band| {
            band.factors[own] = [0.0; 3];
            band
        })
        .collect();
    weighed(heard, bands, &every, Some(power))
}

/// The gate of bands that were fitted, weighed by some frames, and the frames in which the source rests by it; `own` is its power, where
/// separation gives it.
fn weighed(
    heard: &Heard<'_>,
    mut bands: Vec<Band>,
    frames: &[usize],
    own: Option<&[f64]>,
) -> (Gate, Vec<bool>) {
    let predicted: Vec<Vec<f32>> = bands.iter().map(|band| over_time(heard, band)).collect();
    weigh(&mut bands, &predicted, heard, frames);
    let rests = rest::by_excess(&shown_over_time(&bands, &predicted, heard), own);
    (Gate { listener: heard.listener.clone(), bands }, rests)
}

fn fit_one(heard: &Heard<'_>) -> Option<Gate> {
    let power = heard.own();
    let given = heard.listener.own.map(|_| power.as_slice());
    let mut rests = match (rest::at_first(&power), heard.listener.own) {
        (Some(quiet), _) => quiet,
        (None, Some(own)) => {
            let (gate, rests) = fit_beside(heard, own, &power);
            // A source that others leak into only seems to go on.
            if !rest::is_enough(&rests) {
                return Some(gate);
            }
            rests
        }
        (None, None) => rest::softest(&power),
    };
    let mut gate: Option<Gate> = None;
    for round in 0..ROUNDS {
        let resting: Vec<usize> = (0..rests.len()).filter(|&frame| rests[frame]).collect();
        if resting.len() < NEEDS_FRAMES {
            break;
        }
        let some: Vec<usize> =
            resting.iter().copied().step_by(resting.len().div_ceil(FIT_FRAMES)).collect();
        let n_steps = STEPS[round.min(1)];
        let before = |band: usize| {
            gate.as_ref().and_then(|gate| gate.bands.iter().find(|fit| fit.band == band))
        };
        let bands = (0..N_BANDS)
            .filter_map(|band| fit_band(heard, band, &some, before(band), n_steps))
            .collect();
        let (fitted, now) = weighed(heard, bands, &resting, given);
        gate = Some(fitted);
        if now == rests {
            break;
        }
        rests = now;
    }
    gate
}

/// Factors of a band by multiplicative steps; `None` where the microphone hears nothing.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^24")]
fn fit_band(
    heard: &Heard<'_>,
    band: usize,
    frames: &[usize],
    before: Option<&Band>,
    n_steps: usize,
) -> Option<Band> {
    const TINY: f32 = 1e-20;
    let pick =
        |series: &[f32]| frames.iter().map(|&frame| series[frame] + TINY).collect::<Vec<f32>>();
    let mic = pick(&heard.mic[band]);
    let mean = mic.iter().sum::<f32>() / mic.len() as f32;
    if mean <= 2.0 * TINY {
        return None;
    }
    let mut rows: Vec<Vec<f32>> = heard.rows(band).map(pick).collect();
    rows.push(vec![1.0; frames.len()]);
    let sums: Vec<f32> = rows.iter().map(|row| row.iter().sum::<f32>()).collect();
    let mut factors: Vec<f32> = match before {
        Some(fit) => {
            let others = heard.listener.others.iter().flat_map(|&source| fit.factors[source]);
            others.chain([fit.constant]).collect()
        }
        None => sums.iter().map(|sum| 1e-3 * mean * frames.len() as f32 / sum).collect(),
    };
    let mut ratio = vec![0.0f32; frames.len()];
    for _ in 0..n_steps {
        ratio.fill(TINY);
        for (row, &factor) in rows.iter().zip(&factors) {
            ratio.iter_mut().zip(row).for_each(|(sum, x)| *sum += factor * x);
        }
        ratio.iter_mut().zip(&mic).for_each(|(sum, mic)| *sum = mic / *sum);
        for ((factor, row), sum) in factors.iter_mut().zip(&rows).zip(&sums) {
            *factor *= dot(row, &ratio) / sum;
        }
        let constant = factors.last_mut().expect("the constant is the last factor");
        *constant = constant.min(heard.most[band]);
    }
    let constant = factors.pop().expect("the constant is the last factor");
    let mut of_sources = vec![[0.0; 3]; heard.sources[band].len()];
    for (&source, factors) in heard.listener.others.iter().zip(factors.as_chunks::<3>().0) {
        of_sources[source] = *factors;
    }
    Some(Band { band, weight: 0.0, size: heard.sizes[band], factors: of_sources, constant })
}

/// The largest constant that a band may hold: noise is always there, also in its softest frames. A source that hardly rests is no
/// noise.
#[expect(clippy::cast_possible_truncation, reason = "powers are held as f32")]
fn most_constant(mic: &[f32]) -> f32 {
    let powers: Vec<f64> = mic.iter().map(|&power| f64::from(power)).collect();
    (SOFTEST_TO_MEAN * percentile(&powers, SOFTEST).unwrap_or(0.0)) as f32
}

/// What a band predicts in every frame.
fn over_time(heard: &Heard<'_>, band: &Band) -> Vec<f32> {
    let mut predicted = vec![band.constant; heard.n_frames()];
    let factors = heard.listener.others.iter().flat_map(|&source| band.factors[source]);
    for (row, factor) in heard.rows(band.band).zip(factors) {
        predicted.iter_mut().zip(row).for_each(|(sum, x)| *sum += factor * x);
    }
    predicted
}

/// Weighs bands by what is predicted at rest, and only those where the own source stands out most.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "a mean of powers that are held as f32"
)]
fn weigh(bands: &mut [Band], predicted: &[Vec<f32>], heard: &Heard<'_>, resting: &[usize]) {
    let mean = |series: &[f32]| {
        series.iter().map(|&x| f64::from(x)).sum::<f64>() / series.len().max(1) as f64
    };
    let mut stands_out = Vec::with_capacity(bands.len());
    for (band, predicted) in bands.iter_mut().zip(predicted) {
        let at_rest: f64 = resting.iter().map(|&frame| f64::from(predicted[frame])).sum();
        let weight = 1.0 / (at_rest / resting.len() as f64).max(1e-18);
        band.weight = weight as f32;
        stands_out.push(weight * (mean(&heard.mic[band.band]) - mean(predicted)).max(0.0));
    }
    let least = percentile(&stands_out, LEFT_OUT).unwrap_or(0.0);
    for (band, stands_out) in bands.iter_mut().zip(&stands_out) {
        if *stands_out <= least || band.band < heard.listener.from_band {
            band.weight = 0.0;
        }
    }
}

/// Excess in every frame, in dB.
fn shown_over_time(bands: &[Band], predicted: &[Vec<f32>], heard: &Heard<'_>) -> Vec<f64> {
    let mut shown = vec![Shown::default(); heard.n_frames()];
    for (band, predicted) in bands.iter().zip(predicted) {
        for ((shown, mic), predicted) in shown.iter_mut().zip(&heard.mic[band.band]).zip(predicted)
        {
            shown.heard += band.weight * mic;
            shown.explained += band.weight * predicted;
        }
    }
    excess_db(&shown)
}
