//! # Fader and compressor
//!
//! What moved a channel's gain: the operator's hand, the channel's own level, or all channels at once.
//!
//! - **Formula:** with the gain `a(t)` and the level `x(t)` of a channel in dB, on frames in which it is open, within 25 dB of its loud level and well
//!   known: bus = median over channels of `a - median of 4 s`; then in eight turns fader = running median over 10 s of `a - bus - curve(x)`,
//!   curve = median of `a - bus - fader` in bins of 3 dB, 0 at the 90th percentile of `x`; swing: 90th minus 10th percentile of `a - bus - fader`;
//!   slope: of `a - bus - fader` over `x`; what follows the level: 90th minus 10th percentile of `curve(x)`. Where what is
//!   faster than medians of 2 s has a slope below 0.02, these are the fader, so that fast moves show
//! - **Unit:** dB; dB per dB
//! - **Range:** swing 0 dB and more: about what a compressor works; below 3 dB it may be noise
//! - **Source:** own trials on simulated desks
//! - **Window:** a section of up to two minutes, frames of 85 ms
//! - **No value:** less than 10 s of such frames
//! - **Misleads when:** a gate works on the channel (the slope is positive, or it closes more than five times a minute), or channels carry
//!   one signal

use crate::unit::Unmeasured;

/// How far under its loud level a channel tells, in dB.
const DEEP_DB: f32 = 25.0;

/// Place of the loud level among all frames.
const LOUD: f64 = 0.98;

/// How well a gain has to be known to tell of its channel, and of the bus.
const KNOWN: f32 = 0.12;
const WELL_KNOWN: f32 = 0.10;

/// Channels that the bus needs.
const NEEDS_CHANNELS: usize = 4;

/// Half windows of the running medians, in seconds, and how often they are taken.
const BUS_S: f64 = 2.0;
const FADER_S: f64 = 5.0;
const MOVES_S: f64 = 1.0;
const EVERY_S: f64 = 0.5;

/// Slope of gain over level, in dB per dB, below which no compressor and no gate is there that could look like a hand.
const UNPRESSED_SLOPE: f64 = 0.02;

/// Turns of fader and curve.
const TURNS: usize = 8;

/// Width of a bin of levels, in dB.
const BIN_DB: f32 = 3.0;

/// Frames that a bin needs.
const NEEDS_FRAMES: usize = 5;

/// Least time, in seconds.
const NEEDS_S: f64 = 10.0;

/// Gains and levels of a channel, frame by frame.
#[derive(Clone, Copy, Debug)]
pub struct Ridden<'a> {
    /// Gains.
    pub gains: &'a [f32],
    /// Their standard deviations.
    pub deviations: &'a [f32],
    /// Power at a gain of 1.
    pub energy: &'a [f32],
    /// Whether the channel was open.
    pub open: &'a [bool],
}

/// What moved a channel's gain.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    /// The operator's part, frame by frame, in dB re the usual gain; held where nothing tells.
    pub fader_db: Vec<f32>,
    /// How far the gain swings besides, in dB.
    pub swing_db: f64,
    /// How far what follows the level swings, in dB: a compressor hears nothing but the level.
    pub follows_db: f64,
    /// How the gain follows the level, in dB per dB: below 0 for a compressor, above for a gate.
    pub slope: f64,
}

impl Ridden<'_> {
    /// Frames that tell, with gain and level in dB; `known` is how well.
    fn told(&self, known: f32) -> Vec<Option<(f32, f32)>> {
        let mut sorted = self.energy.to_vec();
        sorted.sort_by(f32::total_cmp);
        let least = at(&sorted, LOUD) * 10f32.powf(-DEEP_DB / 10.0);
        (0..self.gains.len())
            .map(|t| {
                let (gain, energy) = (self.gains[t], self.energy[t]);
                let tells = self.open[t]
                    && energy > 0.0
                    && energy >= least
                    && gain > 0.0
                    && self.deviations[t] < known * gain.max(1.0);
                tells.then(|| (20.0 * gain.log10(), 10.0 * energy.log10()))
            })
            .collect()
    }
}

/// What moves all channels at once, frame by frame, in dB; 0 where fewer than four channels tell.
pub fn bus_db(channels: &[Ridden<'_>], hop_s: f64) -> Vec<f32> {
    let n_frames = channels.first().map_or(0, |one| one.gains.len());
    let fast: Vec<Vec<Option<f32>>> = channels
        .iter()
        .map(|one| {
            let gains: Vec<Option<f32>> =
                one.told(WELL_KNOWN).iter().map(|told| told.map(|told| told.0)).collect();
            let slow = running(&gains, BUS_S, hop_s);
            gains.iter().zip(&slow).map(|(gain, slow)| gain.map(|gain| gain - slow)).collect()
        })
        .collect();
    (0..n_frames)
        .map(|t| {
            let mut here: Vec<f32> = fast.iter().filter_map(|one| one[t]).collect();
            if here.len() < NEEDS_CHANNELS { 0.0 } else { median(&mut here) }
        })
        .collect()
}

/// What moved a channel's gain, besides the bus.
///
/// # Errors
///
/// [`Unmeasured::TooShort`] below 10 s that tell.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
pub fn hand(channel: &Ridden<'_>, bus_db: &[f32], hop_s: f64) -> Result<Hand, Unmeasured> {
    let told: Vec<Option<(f32, f32)>> = channel
        .told(KNOWN)
        .into_iter()
        .zip(bus_db)
        .map(|(told, bus)| told.map(|(gain_db, level_db)| (gain_db - bus, level_db)))
        .collect();
    let have_s = told.iter().flatten().count() as f64 * hop_s;
    if have_s < NEEDS_S {
        return Err(Unmeasured::TooShort { have_s, need_s: NEEDS_S });
    }
    let mut levels: Vec<f32> = told.iter().flatten().map(|told| told.1).collect();
    levels.sort_by(f32::total_cmp);
    let mut curve = Curve { lowest_db: levels[0], steps_db: Vec::new() };
    let mut fader_db = Vec::new();
    for _ in 0..TURNS {
        let rest = |told: &Option<(f32, f32)>| told.map(|(gain, level)| gain - curve.at(level));
        let slow: Vec<Option<f32>> = told.iter().map(rest).collect();
        fader_db = running(&slow, FADER_S, hop_s);
        let next = Curve::new(&told, &fader_db, levels[0], at(&levels, 0.9));
        // A curve that comes back brings back the fader: it stays so in all turns to come.
        if next == curve {
            break;
        }
        curve = next;
    }
    let moved: Vec<(f32, f32)> = told
        .iter()
        .zip(&fader_db)
        .filter_map(|(told, fader)| told.map(|(gain, level)| (gain - fader, level)))
        .collect();
    let swing_db = swing_db(moved.iter().map(|one| one.0).collect());
    let follows_db = self::swing_db(moved.iter().map(|one| curve.at(one.1)).collect());
    if let Some(moves_db) = moves_db(&told, hop_s) {
        fader_db = moves_db;
    }
    Ok(Hand { fader_db, swing_db, follows_db, slope: slope(&moved) })
}

/// Running medians over 2 s, where nothing that is faster follows the level: else a compressor would look like a hand.
fn moves_db(told: &[Option<(f32, f32)>], hop_s: f64) -> Option<Vec<f32>> {
    let slow = |of: fn((f32, f32)) -> f32| {
        let values: Vec<Option<f32>> = told.iter().map(|told| told.map(of)).collect();
        running(&values, MOVES_S, hop_s)
    };
    let (gains, levels) = (slow(|told| told.0), slow(|told| told.1));
    let fast: Vec<(f32, f32)> = told
        .iter()
        .zip(gains.iter().zip(&levels))
        .filter_map(|(told, (gain, level))| told.map(|told| (told.0 - gain, told.1 - level)))
        .collect();
    (slope(&fast).abs() < UNPRESSED_SLOPE).then_some(gains)
}

/// How a gain follows the level, in dB, by bins of levels.
#[derive(PartialEq)]
struct Curve {
    lowest_db: f32,
    steps_db: Vec<f32>,
}

impl Curve {
    fn new(told: &[Option<(f32, f32)>], fader_db: &[f32], lowest_db: f32, anchor_db: f32) -> Self {
        let mut bins: Vec<Vec<f32>> = Vec::new();
        for (told, fader_db) in told.iter().zip(fader_db) {
            let Some((gain_db, level_db)) = told else { continue };
            let bin = bin(lowest_db, *level_db);
            if bins.len() <= bin {
                bins.resize(bin + 1, Vec::new());
            }
            bins[bin].push(gain_db - fader_db);
        }
        let mut steps_db: Vec<Option<f32>> =
            bins.iter_mut().map(|bin| (bin.len() >= NEEDS_FRAMES).then(|| median(bin))).collect();
        // Rare levels do as the next louder one, the loudest as the next softer.
        for idx in (0..steps_db.len().saturating_sub(1)).rev() {
            steps_db[idx] = steps_db[idx].or(steps_db[idx + 1]);
        }
        for idx in 1..steps_db.len() {
            steps_db[idx] = steps_db[idx].or(steps_db[idx - 1]);
        }
        let mut curve =
            Self { lowest_db, steps_db: steps_db.iter().map(|step| step.unwrap_or(0.0)).collect() };
        let anchor = curve.at(anchor_db);
        curve.steps_db.iter_mut().for_each(|step| *step -= anchor);
        curve
    }

    fn at(&self, level_db: f32) -> f32 {
        let bin = bin(self.lowest_db, level_db).min(self.steps_db.len().saturating_sub(1));
        self.steps_db.get(bin).copied().unwrap_or(0.0)
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "levels span some 25 dB, and what is below 0 becomes 0"
)]
fn bin(lowest_db: f32, level_db: f32) -> usize {
    ((level_db - lowest_db) / BIN_DB) as usize
}

/// Running median of what is there, within `half_s` to each side; where nothing is, the value before it.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some hundred frames")]
fn running(values: &[Option<f32>], half_s: f64, hop_s: f64) -> Vec<f32> {
    let (reach, step) = ((half_s / hop_s) as usize, ((EVERY_S / hop_s) as usize).max(1));
    let starts: Vec<usize> = (0..values.len()).step_by(step).collect();
    let medians: Vec<Option<f32>> = starts
        .iter()
        .map(|&start| {
            let middle = start + step / 2;
            let end = (middle + reach).min(values.len());
            let mut near: Vec<f32> = values[middle.saturating_sub(reach).min(end)..end]
                .iter()
                .flatten()
                .copied()
                .collect();
            (!near.is_empty()).then(|| median(&mut near))
        })
        .collect();
    let mut held = medians.iter().flatten().next().copied().unwrap_or(0.0);
    let mut running = Vec::with_capacity(values.len());
    for (start, median) in starts.iter().zip(medians) {
        held = median.unwrap_or(held);
        running.resize((start + step).min(values.len()), held);
    }
    running
}

/// 90th minus 10th percentile.
pub(super) fn swing_db(mut values: Vec<f32>) -> f64 {
    values.sort_by(f32::total_cmp);
    f64::from(at(&values, 0.9) - at(&values, 0.1))
}

fn median(values: &mut [f32]) -> f32 {
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// Value at a place of sorted values; 0 if there are none.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place among some thousand values"
)]
fn at(sorted: &[f32], share: f64) -> f32 {
    sorted.get((sorted.len().saturating_sub(1) as f64 * share) as usize).copied().unwrap_or(0.0)
}

/// Slope of the first over the second, in the sense of least squares.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
fn slope(points: &[(f32, f32)]) -> f64 {
    let n = points.len().max(1) as f64;
    let mean =
        |of: fn(&(f32, f32)) -> f32| points.iter().map(|p| f64::from(of(p))).sum::<f64>() / n;
    let (y, x) = (mean(|p| p.0), mean(|p| p.1));
    let (mut rise, mut run) = (0.0, 0.0);
    for point in points {
        let dx = f64::from(point.1) - x;
        rise += dx * (f64::from(point.0) - y);
        run += dx * dx;
    }
    if run > 0.0 { rise / run } else { 0.0 }
}
