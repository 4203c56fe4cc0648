//! # Tone
//!
//! How the energy of a channel spreads over low and high, while it is active and not at its softest.
//!
//! - **Formula:** mean power of each third-octave over the active steps of 0.2 s that lie within 20 dB of the loud level (95th
//!   percentile of their totals); shares are `10 lg` of a band's power over that of all bands; the tilt is the slope of a
//!   straight line through third-octave levels over octaves
//! - **Unit:** dB re total, dB/octave
//! - **Range:** shares -80 to 0; tilt about -6 to +3
//! - **Source:** bands of IEC 61260-1:2014; the ten bands and the gate are common practice
//! - **Window:** 0.2 s steps wholly inside the stretches given; 25 Hz to 16 kHz bands (22.4 to 17 783 Hz)
//! - **No value:** active for too short a time, silent, or a band that the rate can't hold
//! - **Misleads when:** the stretches hold spill as loud as the source

use std::ops::Range;

use super::Thirds;
use super::sliding::{enough, level_db, steps_inside};
use super::thirds::STEP_S;
use super::trace::FLOOR_DB;
use crate::dsp::percentile::percentile;
use crate::dsp::thirds::{N_BANDS, edges_hz, mid_hz};
use crate::dsp::weighting::{a_db, c_db};
use crate::unit::{Span, Unmeasured};

/// The ten bands.
pub const N_TONE_BANDS: usize = 10;

/// Names of the ten bands, from low to high.
pub const TONE_BAND_NAMES: [&str; N_TONE_BANDS] =
    ["floor", "bass", "warmth", "thick", "body", "nose", "presence", "edge", "sizzle", "air"];

/// First third-octave of each of the ten bands, and one past the last: 25, 63, 125, 250, 400, 1000, 2000, 4000, 6300 Hz,
/// 10 kHz.
const TONE_BORDERS: [usize; N_TONE_BANDS + 1] = [0, 4, 7, 10, 12, 16, 19, 22, 24, 26, N_BANDS];

/// Steps this far below the loud level don't count, in dB.
const GATE_DB: f64 = 20.0;

/// Share of steps at or below the loud level.
const LOUD_SHARE: f64 = 0.95;

/// Third-octaves from 100 Hz to 4 kHz, between which the tilt is taken.
const TILT_BANDS: std::ops::RangeInclusive<usize> = 6..=22;

/// Active time that a block needs before its shares count, as a share of its length.
const BLOCK_NEEDS: f64 = 0.5;

/// Third-octaves of the hard edge: 2 to 5 kHz, 1778 to 5623 Hz.
pub const EDGE_BANDS: Range<usize> = 19..24;
/// Third-octaves of the body: 400 to 800 Hz, 355 to 891 Hz.
pub const BODY_BANDS: Range<usize> = 12..16;

/// Phrases that the edge of loud ones needs: two in the loudest quarter.
pub const EDGE_NEEDS_PHRASES: usize = 8;

/// The third-octaves of one of the ten bands.
///
/// # Panics
///
/// If there is no such band.
pub fn thirds_of(band: usize) -> Range<usize> {
    TONE_BORDERS[band]..TONE_BORDERS[band + 1]
}

/// Mean powers of the third-octaves of some steps.
#[derive(Clone, Debug, PartialEq)]
pub struct Tone {
    /// Mean power of each band, from 25 Hz up; fewer than 29 where the rate is low.
    pub powers: Vec<f64>,
    /// Seconds behind them.
    pub counted_s: f64,
}

/// How hard loud phrases sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// 1778-5623 Hz minus 355-891 Hz in the loudest quarter of phrases, in dB.
    pub loud_db: f64,
    /// The same minus that of the softer half, in dB.
    pub growth_db: f64,
}

/// Tone while active, soft steps left out.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`] or [`Unmeasured::Silent`].
pub fn tone(thirds: &Thirds, active: &[Span]) -> Result<Tone, Unmeasured> {
    enough(active)?;
    mean_of(thirds, &counted_steps(thirds, active)).ok_or(Unmeasured::Silent)
}

/// Shares of the ten bands in each stretch of `block_s`, in dB re total: begin in seconds and shares, for the blocks of
/// which at least half is active and counts. A share is [`FLOOR_DB`] where the band is silent or the rate can't hold it.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`], [`Unmeasured::TooLittleActive`], or the same if no block is active for long enough.
pub fn block_shares_db(
    thirds: &Thirds,
    active: &[Span],
    block_s: f64,
) -> Result<Vec<(f64, [f64; N_TONE_BANDS])>, Unmeasured> {
    enough(active)?;
    let steps = counted_steps(thirds, active);
    let (mut blocks, mut rest, mut most_s) = (Vec::new(), &steps[..], 0.0f64);
    let mut start_s = 0.0;
    while !rest.is_empty() {
        let n_here = rest.partition_point(|&step| (count(step) + 0.5) * STEP_S < start_s + block_s);
        let (here, later) = rest.split_at(n_here);
        most_s = most_s.max(count(here.len()) * STEP_S);
        if count(here.len()) * STEP_S >= BLOCK_NEEDS * block_s {
            let shares = mean_of(thirds, here)
                .map(|tone| std::array::from_fn(|band| tone.share_db(band).unwrap_or(FLOOR_DB)));
            blocks.extend(shares.map(|shares| (start_s, shares)));
        }
        rest = later;
        start_s += block_s;
    }
    if blocks.is_empty() {
        return Err(Unmeasured::TooLittleActive { have_s: most_s, need_s: BLOCK_NEEDS * block_s });
    }
    Ok(blocks)
}

/// Edge of the loudest quarter of phrases, and how much it grows from the softer half.
///
/// # Errors
///
/// [`Unmeasured::TooFewEvents`] below [`EDGE_NEEDS_PHRASES`], a reason if the rate is too low, [`Unmeasured::Silent`].
pub fn edge(thirds: &Thirds, phrases: &[Span]) -> Result<Edge, Unmeasured> {
    if thirds.bands.len() < EDGE_BANDS.end {
        return Err(Unmeasured::Because("the sample rate is too low"));
    }
    let steps = |span: Span| steps_inside(span, STEP_S, thirds.n_steps()).collect::<Vec<_>>();
    let tones = phrases.iter().map(|&span| mean_of(thirds, &steps(span)));
    let mut tones: Vec<Tone> = tones.flatten().collect();
    if tones.len() < EDGE_NEEDS_PHRASES {
        return Err(Unmeasured::TooFewEvents { have: tones.len(), need: EDGE_NEEDS_PHRASES });
    }
    tones.sort_by(|one, other| other.total().total_cmp(&one.total()));
    let edge_db = |tones: &[Tone]| {
        let sum = |bands: Range<usize>| {
            tones.iter().map(|tone| tone.powers[bands.clone()].iter().sum::<f64>()).sum::<f64>()
        };
        let (edge, body) = (sum(EDGE_BANDS), sum(BODY_BANDS));
        if edge > 0.0 && body > 0.0 {
            Ok(10.0 * (edge / body).log10())
        } else {
            Err(Unmeasured::Silent)
        }
    };
    let loud_db = edge_db(&tones[..tones.len() / 4])?;
    let soft_db = edge_db(&tones[tones.len() / 2..])?;
    Ok(Edge { loud_db, growth_db: loud_db - soft_db })
}

impl Tone {
    /// Power of all bands.
    pub fn total(&self) -> f64 {
        self.powers.iter().sum()
    }

    /// Level of each of the 29 third-octaves re total, in dB; `None` where no energy was found.
    pub fn thirds_db(&self) -> Vec<Option<f64>> {
        (0..N_BANDS).map(|band| self.re_total_db(*self.powers.get(band)?)).collect()
    }

    /// Half of the energy lies below this third-octave's middle or in it, in Hz; `None` where nothing was found.
    pub fn middle_hz(&self) -> Option<f64> {
        let mut below = 0.0;
        let half = 0.5 * self.total();
        let band = self.powers.iter().position(|power| {
            below += power;
            below > 0.0 && below >= half
        });
        band.map(mid_hz)
    }

    /// Share of one of the ten bands, in dB re total.
    ///
    /// # Errors
    ///
    /// A reason if the rate can't hold the band or it is digitally silent.
    ///
    /// # Panics
    ///
    /// If there is no such band.
    pub fn share_db(&self, band: usize) -> Result<f64, Unmeasured> {
        let powers = self
            .powers
            .get(TONE_BORDERS[band]..TONE_BORDERS[band + 1])
            .ok_or(Unmeasured::Because("the sample rate is too low for the band"))?;
        let power = powers.iter().sum();
        self.re_total_db(power).ok_or(Unmeasured::Because("the band is digitally silent"))
    }

    /// Energy below a frequency re total, in dB. The band in which the frequency lies is split evenly over its octaves.
    ///
    /// # Errors
    ///
    /// A reason if nothing lies below.
    pub fn below_db(&self, corner_hz: f64) -> Result<f64, Unmeasured> {
        let part = |band: usize, power: f64| {
            let [low_hz, high_hz] = edges_hz(band);
            power * ((corner_hz / low_hz).ln() / (high_hz / low_hz).ln()).clamp(0.0, 1.0)
        };
        let below = self.powers.iter().enumerate().map(|(band, &power)| part(band, power)).sum();
        self.re_total_db(below).ok_or(Unmeasured::Because("nothing lies below that frequency"))
    }

    /// Level of 1778-5623 Hz minus that of 355-891 Hz, in dB.
    ///
    /// # Errors
    ///
    /// A reason if the rate is too low or one of them is silent.
    pub fn clarity_db(&self) -> Result<f64, Unmeasured> {
        let sum = |bands: Range<usize>| {
            let powers = self.powers.get(bands)?;
            Some(powers.iter().sum::<f64>()).filter(|&power| power > 0.0)
        };
        let pair = sum(EDGE_BANDS).zip(sum(BODY_BANDS));
        let (edge, body) = pair.ok_or(Unmeasured::Because("one of the bands is silent"))?;
        Ok(10.0 * (edge / body).log10())
    }

    /// Slope of the third-octave levels from 100 Hz to 4 kHz, in dB an octave (least squares).
    ///
    /// # Errors
    ///
    /// A reason if the rate is too low or a band is silent.
    pub fn tilt_db_per_octave(&self) -> Result<f64, Unmeasured> {
        let points: Option<Vec<(f64, f64)>> = TILT_BANDS
            .map(|band| Some((mid_hz(band).log2(), self.re_total_db(*self.powers.get(band)?)?)))
            .collect();
        let points = points.ok_or(Unmeasured::Because("a band from 100 Hz to 4 kHz is silent"))?;
        let mean =
            |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count(points.len());
        let (mid_octave, mid_db) = (mean(|point| point.0), mean(|point| point.1));
        let (mut slope, mut spread) = (0.0, 0.0);
        for (octave, level_db) in points {
            slope += (octave - mid_octave) * (level_db - mid_db);
            spread += (octave - mid_octave).powi(2);
        }
        Ok(slope / spread)
    }

    /// C-weighted minus A-weighted level (IEC 61672-1:2013), in dB.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::Silent`] if nothing was heard.
    pub fn c_minus_a_db(&self) -> Result<f64, Unmeasured> {
        let weighted = |weight_db: fn(f64) -> f64| -> f64 {
            let of =
                |(band, power): (usize, &f64)| power * 10f64.powf(weight_db(mid_hz(band)) / 10.0);
            self.powers.iter().enumerate().map(of).sum()
        };
        let (c, a) = (weighted(c_db), weighted(a_db));
        if a > 0.0 { Ok(10.0 * (c / a).log10()) } else { Err(Unmeasured::Silent) }
    }

    fn re_total_db(&self, power: f64) -> Option<f64> {
        (power > 0.0).then(|| 10.0 * (power / self.total()).log10())
    }
}

/// The active steps that are loud enough to count.
fn counted_steps(thirds: &Thirds, active: &[Span]) -> Vec<usize> {
    let inside: Vec<Range<usize>> =
        active.iter().map(|&span| steps_inside(span, STEP_S, thirds.n_steps())).collect();
    let totals = inside.iter().flat_map(|steps| thirds.totals(steps.clone()));
    let levels: Vec<f64> = totals.map(level_db).collect();
    let loud_db = percentile(&levels, LOUD_SHARE).unwrap_or(FLOOR_DB);
    let least_db = (loud_db - GATE_DB).max(FLOOR_DB);
    let counts = |(step, level_db): (usize, f64)| (level_db > least_db).then_some(step);
    inside.into_iter().flatten().zip(levels).filter_map(counts).collect()
}

/// Mean powers of steps; `None` without steps or power.
fn mean_of(thirds: &Thirds, steps: &[usize]) -> Option<Tone> {
    let runs: Vec<Range<usize>> = steps
        .chunk_by(|one, next| one + 1 == *next)
        .map(|run| run[0]..run[0] + run.len())
        .collect();
    let mean = |band: &super::Trace| {
        let mut sum = 0.0;
        runs.iter().for_each(|run| band.each_power(run.clone(), |power| sum += power));
        sum / count(steps.len())
    };
    if steps.is_empty() {
        return None;
    }
    let powers: Vec<f64> = thirds.bands.iter().map(mean).collect();
    let tone = Tone { powers, counted_s: count(steps.len()) * STEP_S };
    (tone.total() > 0.0).then_some(tone)
}

#[expect(clippy::cast_precision_loss, reason = "a count of steps is far below 2^52")]
fn count(n: usize) -> f64 {
    n as f64
}
