//! # Latency of the mix
//!
//! How much later the main mix stands in its recording than the channels it was made of, and whether that changes.
//!
//! - **Formula:** phase transform of each channel against left plus right in frames of 65,536 samples (Hann, at any rate), summed over the stretch, its
//!   largest value in size within 0.25 s; every channel votes with the size of that value for its lag, votes within a sample add up, the lag
//!   with most wins; drift: slope of the lag over time through the stretches. A recorder that began more than 0.1 s earlier or later is read from
//!   there first (see start of a further recorder), and where the lag moves, by the clock that short stretches tell (Theil and Sen's line)
//! - **Unit:** samples, positive: the mix is later; parts per million
//! - **Source:** C. H. Knapp, G. C. Carter, "The generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24(4), 1976; the vote is an
//!   own trial: half of the channels show the way through another microphone instead
//! - **Window:** stretches of half a minute or more
//! - **No value:** less than 5 s, a silent mix, or a winner with one vote or less than a tenth of all
//! - **Misleads when:** every channel runs through the same extra delay on the desk

use rayon::prelude::*;
use realfft::num_complex::{Complex, Complex64};

use super::lag::Correlator;
use super::taper::{Taper, Workspace};
use crate::dsp::Frames;
use crate::dsp::percentile::median;
use crate::unit::Unmeasured;

/// Samples in a frame: lags up to a fifth of it are safe.
const FRAME: usize = 65_536;

/// Farthest lag, in seconds.
const FAR_S: f64 = 0.25;

/// Least time, in seconds.
const NEEDS_S: f64 = 5.0;

/// Votes within this agree, in samples, where both keep one time.
pub const AGREE_SAMPLES: f64 = 1.0;

/// Bins whose product is this small re the largest of the frame say nothing: what stands there is arithmetic, always at lag 0.
const LEAST_SIZE: f32 = 1e-6;

/// Fewest votes for the winner, and their least share.
const NEEDS_VOTES: usize = 2;
const NEEDS_SHARE: f64 = 0.1;

/// Latency of the mix in a stretch.
#[derive(Clone, Debug, PartialEq)]
pub struct Latency {
    /// Middle of the stretch, in seconds of the session.
    pub at_s: f64,
    /// How much later the mix is, in samples.
    pub samples: f64,
    /// Share of the votes, 0 to 1.
    pub share: f64,
    /// Votes within this agree, in samples.
    pub agree_samples: f64,
    /// The vote of each channel: a lag in samples, and its weight.
    pub votes: Vec<(f64, f64)>,
}

/// Measures the latency of the mix. It keeps 1.5 MB a channel.
pub struct LatencyMeter {
    rate_hz: f64,
    agree_samples: f64,
    taper: Taper,
    main: Channel,
    channels: Vec<Channel>,
    start_s: f64,
    n_samples: usize,
    found: Vec<Result<Latency, Unmeasured>>,
}

struct Channel {
    frames: Frames,
    /// Spectra of the frames that are full.
    spectra: Vec<Complex<f32>>,
    cross: Vec<Complex64>,
    workspace: Workspace,
}

impl Channel {
    fn new() -> Self {
        Self {
            frames: Frames::new(FRAME / 2, FRAME / 2),
            spectra: Vec::new(),
            cross: vec![Complex64::default(); FRAME / 2 + 1],
            workspace: Workspace::default(),
        }
    }

    fn push(&mut self, taper: &Taper, samples: &[f32]) {
        let Self { frames, spectra, workspace, .. } = self;
        spectra.clear();
        frames.push(samples, |_, frame| {
            spectra.extend_from_slice(taper.spectrum(frame, workspace));
        });
    }

    fn compare(&mut self, main: &[Complex<f32>]) {
        let n_bins = self.cross.len();
        let mut turns: Vec<(Complex<f32>, f32)> = Vec::with_capacity(n_bins);
        for (main, own) in main.chunks_exact(n_bins).zip(self.spectra.chunks_exact(n_bins)) {
            turns.clear();
            turns.extend(main.iter().zip(own).map(|(main, own)| {
                let turn = main * own.conj();
                (turn, turn.norm())
            }));
            let least = LEAST_SIZE * turns.iter().fold(0.0, |most, turn| turn.1.max(most));
            for (cross, &(turn, size)) in self.cross.iter_mut().zip(&turns) {
                if size > least {
                    let turn = turn / size;
                    *cross += Complex64::new(f64::from(turn.re), f64::from(turn.im));
                }
            }
        }
    }
}

impl LatencyMeter {
    /// A meter for `n_channels` raw channels and the mix, at the begin of a stretch; votes within `agree_samples` agree.
    pub fn new(rate_hz: u32, n_channels: usize, start_s: f64, agree_samples: f64) -> Self {
        Self {
            rate_hz: f64::from(rate_hz),
            agree_samples,
            taper: Taper::new(FRAME),
            main: Channel::new(),
            channels: (0..n_channels).map(|_| Channel::new()).collect(),
            start_s,
            n_samples: 0,
            found: Vec::new(),
        }
    }

    /// The next samples of all raw channels, and left and right of the mix.
    ///
    /// # Panics
    ///
    /// If there is not one plane for each channel.
    pub fn push(&mut self, planes: &[&[f32]], main: [&[f32]; 2]) {
        assert_eq!(planes.len(), self.channels.len(), "one plane for each channel");
        let both: Vec<f32> =
            main[0].iter().zip(main[1]).map(|(left, right)| left + right).collect();
        self.n_samples += both.len();
        self.main.push(&self.taper, &both);
        let (taper, main) = (&self.taper, &self.main.spectra);
        self.channels.par_iter_mut().zip(planes).for_each(|(channel, plane)| {
            channel.push(taper, plane);
            channel.compare(main);
        });
    }

    /// Ends a stretch, and begins the next at a time in the session.
    pub fn jump(&mut self, start_s: f64) {
        self.found.push(self.vote());
        *self = Self {
            found: std::mem::take(&mut self.found),
            // The rate is what it was given as.
            rate_hz: self.rate_hz,
            ..Self::new(48_000, self.channels.len(), start_s, self.agree_samples)
        };
    }

    /// Latency of each stretch, each with the reason if there is none.
    pub fn finish(mut self) -> Vec<Result<Latency, Unmeasured>> {
        self.found.push(self.vote());
        self.found
    }

    #[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
    fn vote(&self) -> Result<Latency, Unmeasured> {
        let have_s = self.n_samples as f64 / self.rate_hz;
        if have_s < NEEDS_S {
            return Err(Unmeasured::TooShort { have_s, need_s: NEEDS_S });
        }
        let correlator = Correlator::new(self.rate_hz, FRAME);
        let peak = |channel: &Channel| {
            let peak = correlator.lags(1..FRAME / 2, |bin| channel.cross[bin]).peak(FAR_S);
            (peak.at_s * self.rate_hz, peak.value.abs())
        };
        let votes: Vec<(f64, f64)> = self.channels.iter().map(peak).collect();
        let at_s = self.start_s + have_s / 2.0;
        let best = elected(at_s, votes, self.agree_samples).ok_or(Unmeasured::Silent)?;
        if best.share < NEEDS_SHARE || best.near(best.samples).count() < NEEDS_VOTES {
            return Err(Unmeasured::Because("channels don't agree on the latency of the mix"));
        }
        Ok(best)
    }
}

impl Latency {
    /// The votes for a lag.
    fn near(&self, samples: f64) -> impl Iterator<Item = &(f64, f64)> {
        self.votes.iter().filter(move |vote| (vote.0 - samples).abs() <= self.agree_samples)
    }
}

/// The lag that most votes are for; none without votes.
fn elected(at_s: f64, votes: Vec<(f64, f64)>, agree_samples: f64) -> Option<Latency> {
    let near =
        |samples: f64| votes.iter().filter(move |vote| (vote.0 - samples).abs() <= agree_samples);
    let weight = |samples: f64| near(samples).map(|vote| vote.1).sum::<f64>();
    let all: f64 = votes.iter().map(|vote| vote.1).sum();
    let best = votes.iter().max_by(|a, b| weight(a.0).total_cmp(&weight(b.0)));
    let best = best.filter(|_| all > 0.0)?.0;
    let sum: f64 = near(best).map(|vote| vote.0 * vote.1).sum();
    let (samples, share) = (sum / weight(best), weight(best) / all);
    Some(Latency { at_s, samples, share, agree_samples, votes })
}

/// The latency that all stretches share: the lag with most votes of all of them together, if some of each stretch are for it. What wins
/// in a single stretch may be the way through another microphone.
pub fn common(stretches: &[Latency]) -> Option<Latency> {
    let votes = stretches.iter().flat_map(|one| one.votes.iter().copied()).collect();
    let first = stretches.first()?;
    let best = elected(first.at_s, votes, first.agree_samples)?;
    let is_shared = stretches.iter().all(|one| one.near(best.samples).next().is_some());
    (is_shared && best.share >= NEEDS_SHARE).then_some(best)
}

/// How fast the latency grows, in parts per million of the session's rate: a recorder with a clock of its own. None below two
/// stretches.
#[expect(clippy::cast_precision_loss, reason = "stretches are few")]
pub fn drift_ppm(stretches: &[Latency], rate_hz: u32) -> Option<f64> {
    let n = stretches.len() as f64;
    let mean_s = stretches.iter().map(|one| one.at_s).sum::<f64>() / n;
    let mean = stretches.iter().map(|one| one.samples).sum::<f64>() / n;
    let rise: f64 = stretches.iter().map(|s| (s.at_s - mean_s) * (s.samples - mean)).sum();
    let run: f64 = stretches.iter().map(|s| (s.at_s - mean_s).powi(2)).sum();
    (stretches.len() > 1 && run > 0.0).then(|| 1e6 * rise / run / f64::from(rate_hz))
}

/// The line on which most latencies lie, as a recorder with a clock of its own makes them: how much later its recording stands at the begin
/// of the session, in samples, and its drift in parts per million. None below two stretches.
///
/// Medians of the slopes between all stretches and of what is left then (Theil 1950, Sen 1968): some stretches show the way through another
/// microphone.
pub fn steady(stretches: &[Latency], rate_hz: u32) -> Option<(f64, f64)> {
    let slopes: Vec<f64> = stretches
        .iter()
        .enumerate()
        .flat_map(|(idx, a)| stretches[idx + 1..].iter().map(move |b| (a, b)))
        .filter(|(a, b)| b.at_s > a.at_s)
        .map(|(a, b)| (b.samples - a.samples) / (b.at_s - a.at_s))
        .collect();
    let slope = median(&slopes)?;
    let left: Vec<f64> = stretches.iter().map(|one| one.samples - slope * one.at_s).collect();
    Some((median(&left)?, 1e6 * slope / f64::from(rate_hz)))
}
