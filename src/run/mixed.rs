//! What the operator did with the mix: all recordings are read once more, section by section, aligned with the main mix.
//!
//! Takes who sounds when and where songs begin and end, gives a board of the session. Knows the order of the steps, computes
//! nothing itself. Memory holds one section at a time.

use super::aligned::{Aligned, Clock};
use super::stream::Recorder;
use crate::dsp::thirds::NOMINAL_HZ;
use crate::measure::Trace;
use crate::measure::thirds::{self, Thirds};
use crate::relate::activity::{Activity, Presence};
use crate::relate::board::Board;
use crate::relate::colour::{Patch, apart, products};
use crate::relate::grid::{Grid, N_BANDS, middle_hz};
use crate::relate::insert::inserts;
use crate::relate::latency::{AGREE_SAMPLES, Latency, LatencyMeter, common, drift_ppm, steady};
use crate::relate::mixture::{Mixture, mixture};
use crate::relate::sections::{parted, sections};
use crate::relate::shares::{Powers, SLOT_S, with_leads};
use crate::relate::spectrogram::{BLOCK, Spectrogram, SpectrogramMeter};
use crate::relate::startup::startup;
use crate::relate::whole_bands::to_whole_bands;
use crate::session::{Family, Role, SessionChannel, Tap};
use crate::unit::spans::shared_s;
use crate::unit::{Span, Unmeasured};

/// Where latency is told: one stretch in each part of the session, of this length, in seconds; two in a short session.
const PARTS: usize = 3;
const FEWEST_PARTS: usize = 2;
const SPOT_S: f64 = 30.0;

/// How finely stretches are looked for, in seconds.
const STEP_S: f64 = 5.0;

/// Fewest channels of which a mix is made.
const FEWEST: usize = 2;

/// What a clock that was found may leave over, in samples.
const STEADY_SAMPLES: f64 = 1.5;

/// Where a clock of its own is looked for, latencies are told from shorter stretches at first, in seconds; each look brings the next closer.
/// Votes agree within so many samples in each: a clock that is not known moves the lag within a stretch.
const SHORT_SPOT_S: f64 = 6.0;
const SHORT_LOOKS: usize = 2;
const LOOKS_AGREE_SAMPLES: [f64; 5] = [12.0, 3.0, AGREE_SAMPLES, AGREE_SAMPLES, AGREE_SAMPLES];

/// A recorder of the mix that started with the session is this near to it by levels, in seconds: latencies are looked for there.
const STARTED_WITH_S: f64 = 0.1;

/// A clock that is off by more than this is none, in parts per million.
const MOST_PPM: f64 = 300.0;

/// What is known before.
pub(super) struct Known<'a> {
    pub(super) channels: &'a [SessionChannel],
    /// Left and right of the main mix; the same twice if it is mono.
    pub(super) main: Option<[usize; 2]>,
    /// When each source sounds.
    pub(super) activities: &'a [Activity],
    /// Third-octave levels of each channel.
    pub(super) thirds: &'a [&'a Thirds],
    /// Level of each channel over time.
    pub(super) levels: &'a [&'a Trace],
    /// Where songs begin and end, in order, in seconds.
    pub(super) borders_s: &'a [f64],
    /// Length of the session, in seconds.
    pub(super) duration_s: f64,
    /// Its rate, in Hz.
    pub(super) rate_hz: u32,
}

impl Known<'_> {
    /// How long some channels sound in a stretch, all together.
    fn sounding_s(&self, channels: &[usize], within: Span) -> f64 {
        channels.iter().map(|&idx| shared_s(&self.activities[idx].spans, within)).sum()
    }
}

/// The mix, read back.
pub(super) struct Mixed {
    pub(super) board: Board,
    /// How much later the mix stands in its recording.
    pub(super) latency_s: f64,
    /// How sure that is: share of the votes.
    pub(super) agreement: f64,
    /// How much faster the clock of the mix's recorder ran, if it was heard long enough to tell.
    pub(super) drift_ppm: Option<f64>,
    /// Whether that was so much that the mix was read by it; else its latency is the same everywhere.
    pub(super) has_own_clock: bool,
    /// How much later each line enters the mix than the others.
    pub(super) inserts_s: Vec<f64>,
    /// Whether the mix has two sides.
    pub(super) is_stereo: bool,
}

/// Reads the mix back. `reopen` gives the recordings at their start. None if no main mix was recorded.
pub(super) fn mixed(
    known: &Known<'_>,
    reopen: &dyn Fn() -> Option<Vec<Recorder>>,
    progress: &(dyn Fn(f64) + Sync),
) -> Option<Result<Mixed, Unmeasured>> {
    let main = known.main?;
    let lines = lines(known);
    if lines.len() < FEWEST {
        return Some(Err(Unmeasured::Because(
            "the channels that the mix was made of were not recorded",
        )));
    }
    let is_lead = |place: &usize| {
        let role = known.channels[lines[*place]].role;
        role == Role::LeadVocal || role.family() == Family::Utility
    };
    let leads = (0..lines.len()).filter(is_lead).collect();
    let patch = Patch { channels: lines, main, leads };
    let spots = spots(known, &patch.channels);
    if spots.is_empty() {
        return Some(Err(Unmeasured::Because("too little was played to align the mix")));
    }
    let aligned = Aligned::new(reopen()?, known.channels.len(), known.rate_hz);
    Some(Stage { known, patch, progress }.read(aligned, &spots))
}

struct Stage<'a> {
    known: &'a Known<'a>,
    patch: Patch,
    progress: &'a (dyn Fn(f64) + Sync),
}

impl Stage<'_> {
    fn read(&self, mut aligned: Aligned, spots: &[Span]) -> Result<Mixed, Unmeasured> {
        let known = self.known;
        let begun_samples = self.begun_samples();
        for side in self.patch.main {
            aligned.shift(side, whole(begun_samples));
        }
        let found = self.latencies(&mut aligned, spots, AGREE_SAMPLES);
        (self.progress)(0.05);
        let mut latencies: Vec<Latency> = found.iter().flatten().cloned().collect();
        let same = common(&latencies);
        let is_plain = same.is_some() && latencies.len() == spots.len();
        let clock = if is_plain { None } else { self.clock(&mut aligned, spots, begun_samples) };
        let mut late_samples = clock.map_or(0.0, |clock| clock.late_samples);
        if clock.is_none() {
            let same = same.ok_or_else(|| {
                let reason = found.iter().find_map(|one| one.as_ref().err().cloned());
                reason.unwrap_or(Unmeasured::Because(
                    "the mix does not keep step with the channels, and no steady clock explains it",
                ))
            })?;
            for side in self.patch.main {
                aligned.shift(side, whole(begun_samples + same.samples));
                aligned.keep_time(side, None);
            }
            late_samples = begun_samples + same.samples;
            latencies.retain(|one| (one.samples - same.samples).abs() <= STEADY_SAMPLES);
        }
        let inserts_s = self.align_inserts(&mut aligned, spots);
        (self.progress)(0.1);
        let sections = sections(known.borders_s, known.duration_s);
        let board = self.board(&mut aligned, &sections);
        Ok(Mixed {
            board,
            latency_s: late_samples / f64::from(known.rate_hz),
            agreement: latencies.iter().map(|one| one.share).fold(0.0, f64::max),
            drift_ppm: clock
                .map_or_else(|| drift_ppm(&latencies, known.rate_hz), |clock| Some(clock.ppm)),
            has_own_clock: clock.is_some(),
            inserts_s,
            is_stereo: self.patch.main[0] != self.patch.main[1],
        })
    }

    /// Reads all sections; those in which a way was changed once more, in parts.
    fn board(&self, aligned: &mut Aligned, sections: &[Span]) -> Board {
        let mut board = Board::new(&self.patch.channels, sections);
        // Where most sounds comes first: it tells what gains to expect where little does.
        let mut order: Vec<usize> = (0..sections.len()).collect();
        let density = |at: usize| {
            self.known.sounding_s(&self.patch.channels, sections[at]) / sections[at].length_s()
        };
        order.sort_by(|&a, &b| density(b).total_cmp(&density(a)));
        let mut torn: Vec<(usize, Vec<Span>)> = Vec::new();
        for (n_done, &section) in order.iter().enumerate() {
            let span = sections[section];
            if let Some(mixture) = self.mixture(aligned, span, &board) {
                let torn_s: Vec<f64> = mixture.torn_s.iter().copied().flatten().collect();
                match parted(span, &torn_s) {
                    parts if parts.len() > 1 => torn.push((section, parts)),
                    _ => board.put(section, &mixture),
                }
            }
            #[expect(clippy::cast_precision_loss, reason = "only shown")]
            (self.progress)(0.1 + 0.9 * (n_done + 1) as f64 / sections.len() as f64);
        }
        // From the end: what was parted moves nothing before it.
        torn.sort_by_key(|one| std::cmp::Reverse(one.0));
        for (section, parts) in torn {
            for (place, part) in parts.iter().enumerate().skip(1) {
                board.part(section + place - 1, part.start_s);
            }
            for (place, part) in parts.into_iter().enumerate() {
                if let Some(mixture) = self.mixture(aligned, part, &board) {
                    board.put(section + place, &mixture);
                }
            }
        }
        board.finish();
        board
    }

    /// The mix of a stretch, with all of its sound.
    fn mixture(&self, aligned: &mut Aligned, span: Span, board: &Board) -> Option<Mixture> {
        let (held, patch) = self.spectra(aligned, &[span]);
        let mut mixture = mixture(&held, &patch, &board.expected_db())?;
        let leads = with_leads(&patch, &mixture.groups);
        let Mixture { slots, groups, .. } = &mut mixture;
        to_whole_bands(slots, held.grid(), groups, &leads, |line, start_s| {
            whole_bands(self.known.thirds[self.patch.channels[line]], start_s)
        });
        Some(mixture)
    }

    /// How much later the recorder of the mix began, by levels, in samples; 0 where it began with the session.
    fn begun_samples(&self) -> f64 {
        let levels =
            |of: &[usize]| of.iter().map(|&idx| self.known.levels[idx]).collect::<Vec<_>>();
        startup(&levels(&self.patch.channels), &levels(&self.patch.main))
            .map(|start| start.late_s)
            .filter(|late_s| late_s.abs() > STARTED_WITH_S)
            .map_or(0.0, |late_s| (late_s * f64::from(self.known.rate_hz)).round())
    }

    /// The clock of the mix's recorder, where it is not that of the session: every look reads the mix by the clock that was found so far.
    fn clock(&self, aligned: &mut Aligned, spots: &[Span], begun_samples: f64) -> Option<Clock> {
        let ends = |spot: &Span| {
            let short_s = SHORT_SPOT_S.min(spot.length_s() / 2.0);
            [
                Span::new(spot.start_s, spot.start_s + short_s),
                Span::new(spot.end_s - short_s, spot.end_s),
            ]
        };
        let short: Vec<Span> = spots.iter().flat_map(ends).collect();
        let mut clock = Clock { late_samples: begun_samples, ppm: 0.0 };
        for (look, agree_samples) in LOOKS_AGREE_SAMPLES.into_iter().enumerate() {
            let spots = if look < SHORT_LOOKS { &short } else { spots };
            let found = self.latencies(aligned, spots, agree_samples);
            let latencies: Vec<Latency> = found.into_iter().flatten().collect();
            if look >= SHORT_LOOKS
                && common(&latencies).is_some_and(|best| best.samples.abs() < STEADY_SAMPLES)
            {
                return Some(clock);
            }
            let (late_samples, ppm) = steady(&latencies, self.known.rate_hz)?;
            clock.ppm += ppm;
            clock.late_samples += late_samples;
            if clock.ppm.abs() > MOST_PPM {
                return None;
            }
            for side in self.patch.main {
                aligned.keep_time(side, Some(clock));
            }
        }
        None
    }

    fn latencies(
        &self,
        aligned: &mut Aligned,
        spots: &[Span],
        agree_samples: f64,
    ) -> Vec<Result<Latency, Unmeasured>> {
        let start_s = spots.first().map_or(0.0, |spot| spot.start_s);
        let n = self.patch.channels.len();
        let mut meter = LatencyMeter::new(self.known.rate_hz, n, start_s, agree_samples);
        for (idx, spot) in spots.iter().enumerate() {
            if idx > 0 {
                meter.jump(spot.start_s);
            }
            aligned.read(*spot, |planes| {
                let lines: Vec<&[f32]> =
                    self.patch.channels.iter().map(|&channel| planes[channel]).collect();
                meter.push(&lines, self.patch.main.map(|side| planes[side]));
            });
        }
        meter.finish()
    }

    /// Reads channels earlier that enter the mix later than the others; gives by how much, in seconds.
    fn align_inserts(&self, aligned: &mut Aligned, spots: &[Span]) -> Vec<f64> {
        let (held, patch) = self.spectra(aligned, spots);
        let (n, n_frames) = (patch.channels.len(), held.n_frames());
        let blocks: Vec<usize> = (0..n_frames.div_ceil(BLOCK)).collect();
        let found =
            products(&held, &patch, &vec![vec![1.0; n_frames]; n], &vec![1.0; n_frames], &blocks);
        let colours = apart(&found);
        let mut late_s = vec![0.0; n];
        for (idx, insert) in inserts(held.grid(), &found, &colours).into_iter().enumerate() {
            let Some(insert) = insert else { continue };
            aligned.shift(self.patch.channels[idx], -whole(insert.samples));
            late_s[idx] = insert.samples.round() / f64::from(self.known.rate_hz);
        }
        late_s
    }

    /// Spectra of the lines and, behind them, of the mix.
    fn spectra(&self, aligned: &mut Aligned, stretches: &[Span]) -> (Spectrogram, Patch) {
        let n = self.patch.channels.len();
        let mut meter = SpectrogramMeter::new(Grid::short(self.known.rate_hz), n + 2);
        for stretch in stretches {
            meter.begin(stretch.start_s);
            aligned.read(*stretch, |planes| {
                let wanted = self.patch.channels.iter().chain(&self.patch.main);
                let wanted: Vec<&[f32]> = wanted.map(|&channel| planes[channel]).collect();
                meter.push(&wanted);
            });
        }
        let leads = self.patch.leads.clone();
        (meter.finish(), Patch { channels: (0..n).collect(), main: [n, n + 1], leads })
    }
}

/// Third-octaves of a second of a channel, on the bands of the spectra; none where they were not measured.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a moment of the session is not negative; powers are held as f32"
)]
fn whole_bands(thirds: &Thirds, start_s: f64) -> Option<Powers> {
    let first_band = NOMINAL_HZ.iter().position(|hz| *hz > middle_hz(0))?;
    let [from, to] =
        [start_s, start_s + SLOT_S].map(|at_s| (at_s / thirds::STEP_S).round().max(0.0) as usize);
    let mut powers = [0.0; N_BANDS];
    let measured = thirds.bands.get(first_band..)?;
    for (power, band) in powers.iter_mut().zip(measured) {
        *power = band.mean_power(from, to) as f32;
    }
    Some(powers)
}

/// Channels that may be in the mix and are heard: what comes to the desk, and returns of effects; a processed tap only where its raw
/// channel was not recorded.
fn lines(known: &Known<'_>) -> Vec<usize> {
    let may_be = |&idx: &usize| {
        let channel = &known.channels[idx];
        let is_wanted = match channel.role.family() {
            Family::Utility => channel.role != Role::Spare,
            Family::Ambience | Family::Mix => false,
            _ => true,
        };
        is_wanted
            && channel.raw.is_none()
            && !matches!(channel.tap, Tap::Mix | Tap::Monitor | Tap::Room)
            && known.activities[idx].presence != Presence::Silent
    };
    (0..known.channels.len()).filter(may_be).collect()
}

/// Where most sources sound, one stretch in each part of the session, in order.
#[expect(clippy::cast_precision_loss, reason = "a session has few stretches")]
fn spots(known: &Known<'_>, lines: &[usize]) -> Vec<Span> {
    let n_parts = if known.duration_s < PARTS as f64 * SPOT_S { FEWEST_PARTS } else { PARTS };
    let part_s = known.duration_s / n_parts as f64;
    let mut spots = Vec::new();
    for part in 0..n_parts {
        let (from_s, to_s) = (part as f64 * part_s, (part + 1) as f64 * part_s);
        let length_s = SPOT_S.min(part_s.floor());
        let n_steps = whole(((to_s - from_s - length_s) / STEP_S).floor()).max(0);
        let spot = |step: i64| {
            let start_s = (from_s + step as f64 * STEP_S).floor();
            Span::new(start_s, start_s + length_s)
        };
        let best = (0..=n_steps)
            .map(spot)
            .map(|spot| (spot, known.sounding_s(lines, spot)))
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.start_s.total_cmp(&a.0.start_s)));
        spots.extend(best.filter(|best| best.1 > 0.0).map(|best| best.0));
    }
    spots
}

#[expect(clippy::cast_possible_truncation, reason = "shifts are far below 2^52 samples")]
fn whole(samples: f64) -> i64 {
    samples.round() as i64
}
