//! # Decay from an impulse
//!
//! How long a hall rings after a clap or a burst balloon, octave by octave, and how much of the sound comes early.
//!
//! - **Formula:** octave band-pass run backwards in time, squared; noise power subtracted, integrated backwards from where the
//!   decay meets the noise, plus what an exponential decay would have brought after that; straight lines through the curve in
//!   dB from 0 to -10 (`EDT`), -5 to -20 (`T15`), -25 (`T20`), -35 (`T30`), each taken to 60 dB. `C50`, `C80`: energy
//!   of the first 50 or 80 ms over the rest, `10 lg`; `D50`: energy of the first 50 ms over all
//! - **Unit:** s; dB; share
//! - **Range:** 0.1 s to 10 s
//! - **Source:** ISO 3382-1:2009 (terms, ranges), ISO 3382-2:2008 (35 dB above the noise for `T20`, 45 dB for `T30`);
//!   A. Lundeby et al., "Uncertainties of measurements in room acoustics", Acustica 81, 1995 (where to stop); `T15` with 28
//!   dB is an addition of our own. In 24 simulated halls with a clap 60 dB over the noise 93 of 100 octaves came within
//!   5 %, 98 within 10 %
//! - **Window:** one impulse and what follows it, with nothing else sounding
//! - **No value:** too little range over the noise; an octave above half the rate; where one time is to stand for an octave, a
//!   curve that is no line (r² up to 0.98, for `T30` up to `0.98 - 3 / (B T)` in an octave `B` wide: noise that falls evenly
//!   is no straighter)
//! - **Misleads when:** the clap is louder to one side; somebody speaks into the tail; the recorder follows the level by
//!   itself. A clap has little below 200 Hz: a balloon has more. At 63 Hz a short hall has so few resonances that another
//!   place of it has a time 10 % longer or shorter (ISO 3382-2: `0.59 / sqrt(B T)`)

use super::sweep::Sweep;
use crate::dsp::biquad::{Filter, band_pass};
use crate::unit::Unmeasured;

/// Middle of the octaves, in Hz, exact for base ten (IEC 61260-1): 63 Hz to 8 kHz.
pub const OCTAVES_HZ: [f64; 8] = [
    63.095_734,
    125.892_541,
    251.188_643,
    501.187_234,
    1_000.0,
    1_995.262_315,
    3_981.071_706,
    7_943.282_347,
];

/// From the middle of an octave to its edges: 10^0.15.
pub(super) const HALF_OCTAVE: f64 = 1.412_537_545;

/// Width of an octave re its middle.
const WIDTH: f64 = HALF_OCTAVE - 1.0 / HALF_OCTAVE;

/// Sections of the band-pass: order 16. With less, the longer decay of a lower octave leaks in: of claps, 85 of 100 octaves
/// came within 5 % with order 6, 90 with order 10, more than 93 with order 16. Run backwards, it rings before the impulse only.
const N_SECTIONS: usize = 8;

/// What is taken before the highest point of the impulse, in seconds.
const BEFORE_S: f64 = 0.001;

/// Ringing of a band's filter before the impulse that belongs to it, in periods of the middle.
const RING_PERIODS: f64 = 3.0;

/// Least straightness of a curve.
const NEEDS_R2: f64 = 0.98;

/// What of that a narrow band may lack between -5 and -35 dB, times its width and its decay time. Noise that falls evenly in an octave
/// filter lacks 0.75 in the middle and less than 3 in 99 of 100 (2400 octaves of 300 simulated halls).
const NARROW: f64 = 3.0;

/// Least range over the noise for each figure, in dB.
const T30_DB: f64 = 45.0;
const T20_DB: f64 = 35.0;
const T15_DB: f64 = 28.0;
const CLARITY_DB: f64 = 25.0;

/// A part of a decay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// Time to fall by 60 dB, in seconds.
    pub t60_s: f64,
    /// How straight it is: the share of the variance that the line explains.
    pub r2: f64,
}

/// Decay in one octave.
#[derive(Clone, Debug, PartialEq)]
pub struct Decay {
    /// From 0 to -10 dB.
    pub edt: Result<Slope, Unmeasured>,
    /// From -5 to -20 dB.
    pub t15: Result<Slope, Unmeasured>,
    /// From -5 to -25 dB.
    pub t20: Result<Slope, Unmeasured>,
    /// From -5 to -35 dB.
    pub t30: Result<Slope, Unmeasured>,
    /// Clarity with 50 ms, in dB.
    pub c50_db: Result<f64, Unmeasured>,
    /// Clarity with 80 ms, in dB.
    pub c80_db: Result<f64, Unmeasured>,
    /// Share of the first 50 ms, 0 to 1.
    pub d50: Result<f64, Unmeasured>,
    /// Highest level of 10 ms over the noise, in dB.
    pub range_db: f64,
    /// Width of the band, in Hz.
    pub width_hz: f64,
}

impl Decay {
    /// The decay time that rests on the widest range, if it is straight.
    ///
    /// # Errors
    ///
    /// The reason of [`Decay::t15`] if none can be had, or that none is straight.
    pub fn widest_s(&self) -> Result<f64, Unmeasured> {
        let lacks = |slope: &Slope| NARROW / (self.width_hz * slope.t60_s);
        let wide = self.t30.iter().find(|slope| slope.r2 > NEEDS_R2 - lacks(slope));
        let others = [&self.t20, &self.t15].into_iter().flatten();
        let straight = wide.or_else(|| others.into_iter().find(|slope| slope.r2 > NEEDS_R2));
        let reason = Unmeasured::Because("the decay is no straight line");
        match straight {
            Some(slope) => Ok(slope.t60_s),
            None => Err(self.t15.clone().err().unwrap_or(reason)),
        }
    }

    /// No figures, and why.
    fn missing(reason: &Unmeasured, range_db: f64, width_hz: f64) -> Self {
        Self {
            edt: Err(reason.clone()),
            t15: Err(reason.clone()),
            t20: Err(reason.clone()),
            t30: Err(reason.clone()),
            c50_db: Err(reason.clone()),
            c80_db: Err(reason.clone()),
            d50: Err(reason.clone()),
            range_db,
            width_hz,
        }
    }
}

/// Decay after the highest point of a recording, one for each of [`OCTAVES_HZ`].
///
/// The recording should go on until the sound has been lost in the noise for a while: a few seconds. It costs 30 bytes a sample.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "places in a few seconds of samples"
)]
pub fn after_impulse(samples: &[f32], rate_hz: u32) -> Vec<Decay> {
    let rate = f64::from(rate_hz);
    let top = (0..samples.len()).max_by(|&a, &b| samples[a].abs().total_cmp(&samples[b].abs()));
    let Some(top) = top.filter(|&top| samples[top].abs() > 0.0) else {
        return OCTAVES_HZ.map(|hz| Decay::missing(&Unmeasured::Silent, 0.0, WIDTH * hz)).to_vec();
    };
    let start = top.saturating_sub((BEFORE_S * rate) as usize);
    let octave = |mid_hz: f64| {
        let (low_hz, high_hz) = (mid_hz / HALF_OCTAVE, mid_hz * HALF_OCTAVE);
        if high_hz >= 0.5 * rate {
            let reason = Unmeasured::Because("the octave lies above half of the sample rate");
            return Decay::missing(&reason, 0.0, WIDTH * mid_hz);
        }
        let n_ring = ((RING_PERIODS / mid_hz * rate) as usize).min(start);
        let mut filter = Filter::new(band_pass(rate, low_hz, high_hz, N_SECTIONS));
        let mut energy: Vec<f64> = samples[start - n_ring..]
            .iter()
            .rev()
            .map(|&sample| filter.step(f64::from(sample)).powi(2))
            .collect();
        energy.reverse();
        of_energy(&energy, n_ring as f64 / rate, rate, WIDTH * mid_hz)
    };
    OCTAVES_HZ.map(octave).to_vec()
}

/// The same of a response made from a sweep; octaves that the sweep does not cover have no figures.
pub fn after_sweep(response: &[f32], rate_hz: u32, sweep: &Sweep) -> Vec<Decay> {
    let mut octaves = after_impulse(response, rate_hz);
    for (mid_hz, octave) in OCTAVES_HZ.into_iter().zip(&mut octaves) {
        if !sweep.holds(mid_hz / HALF_OCTAVE, mid_hz * HALF_OCTAVE) {
            let reason = Unmeasured::Because("the sweep does not cover the octave");
            *octave = Decay::missing(&reason, octave.range_db, octave.width_hz);
        }
    }
    octaves
}

/// How the middle (500 Hz and 1 kHz together) falls behind the highest point of a recording: levels of steps re the highest, in dB.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "places in a few seconds of samples"
)]
pub fn fall_db(samples: &[f32], rate_hz: u32, step_s: f64, most_s: f64) -> Vec<f64> {
    let rate = f64::from(rate_hz);
    let top = (0..samples.len()).max_by(|&a, &b| samples[a].abs().total_cmp(&samples[b].abs()));
    let Some(top) = top else { return Vec::new() };
    let (low_hz, high_hz) = (OCTAVES_HZ[3] / HALF_OCTAVE, OCTAVES_HZ[4] * HALF_OCTAVE);
    let mut filter = Filter::new(band_pass(rate, low_hz, high_hz, 3));
    let behind = &samples[top.saturating_sub((BEFORE_S * rate) as usize)..];
    let energy: Vec<f64> =
        behind.iter().map(|&sample| filter.step(f64::from(sample)).powi(2)).collect();
    let n_step = ((step_s * rate) as usize).max(1);
    let mean = |step: &[f64]| step.iter().sum::<f64>() / step.len() as f64;
    let steps = energy.chunks_exact(n_step).take((most_s / step_s).round() as usize);
    let powers: Vec<f64> = steps.map(mean).collect();
    let most = powers.iter().copied().fold(0.0, f64::max);
    let in_db = |power: &f64| 10.0 * (power / most).max(1e-12).log10();
    if most > 0.0 { powers.iter().map(in_db).collect() } else { Vec::new() }
}

/// Decay time that is recommended for speech in a hall, in seconds: `0.37 lg(V / m3) - 0.14` (DIN 18041:2016, use A2).
///
/// # Errors
///
/// A reason outside 50 to 5000 cubic metres.
pub fn for_speech_s(volume_m3: f64) -> Result<f64, Unmeasured> {
    if (50.0..=5000.0).contains(&volume_m3) {
        Ok(0.37 * volume_m3.log10() - 0.14)
    } else {
        Err(Unmeasured::Because("nothing is recommended for a hall of this volume"))
    }
}

/// Longest decay time that is liked for amplified music in a hall, in seconds: 0.6 s at 1000 m3 to 1.2 s at 6000 m3 (N. W.
/// Adelman-Larsen, E. R. Thompson, A. C. Gade, JASA 127(1), 2010, from memory). What is liked in the largest is taken for all.
///
/// # Errors
///
/// A reason outside 1000 to 6000 cubic metres.
pub fn for_amplified_music_s(volume_m3: f64) -> Result<f64, Unmeasured> {
    if (1000.0..=6000.0).contains(&volume_m3) {
        Ok(1.2)
    } else {
        Err(Unmeasured::Because("nothing is known to be liked in a hall of this volume"))
    }
}

/// Decay of squared samples of a band `width_hz` wide; the impulse falls `start_s` behind the first.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "places in a few seconds of samples"
)]
pub fn of_energy(energy: &[f64], start_s: f64, rate_hz: f64, width_hz: f64) -> Decay {
    let start = ((start_s * rate_hz) as usize).min(energy.len());
    let Some(knee) = Knee::find(&energy[start..], rate_hz) else {
        let reason = Unmeasured::Because("the decay does not stand out of the noise");
        return Decay::missing(&reason, 0.0, width_hz);
    };
    let end = start + knee.at;
    // What an exponential decay brings after the knee, where it has the power of the noise.
    let tail = knee.noise * rate_hz / (-knee.slope_db_s * std::f64::consts::LN_10 / 10.0);
    let mut sum = tail;
    let mut curve: Vec<f64> = energy[..end]
        .iter()
        .rev()
        .map(|power| {
            sum += power - knee.noise;
            sum
        })
        .collect();
    curve.reverse();
    let total = curve.first().copied().unwrap_or(0.0);
    let at_start = curve.get(start).copied().unwrap_or(0.0);
    if at_start <= 0.0 || total <= 0.0 {
        return Decay::missing(&Unmeasured::Silent, knee.range_db, width_hz);
    }
    let in_db = |power: f64| 10.0 * (power / at_start).max(1e-20).log10();
    let curve_db: Vec<f64> = curve[start..].iter().map(|&power| in_db(power)).collect();
    let over = |needs_db: f64| {
        let reason = Unmeasured::Because("the impulse does not stand far enough out of the noise");
        if knee.range_db < needs_db { Err(reason) } else { Ok(()) }
    };
    let time = |from_db: f64, to_db: f64, needs_db: f64| {
        over(needs_db).and_then(|()| slope(&curve_db, from_db, to_db, rate_hz))
    };
    let late = |after_s: f64| {
        over(CLARITY_DB)?;
        let place = start + (after_s * rate_hz).round() as usize;
        let late = curve.get(place).copied().unwrap_or(tail);
        let is_lawful = 0.0 < late && late < total;
        let reason = Unmeasured::Because("all of the sound comes early");
        if is_lawful { Ok(late / total) } else { Err(reason) }
    };
    let clarity_db = |after_s: f64| late(after_s).map(|late| 10.0 * (1.0 / late - 1.0).log10());
    Decay {
        edt: time(0.0, -10.0, T15_DB),
        t15: time(-5.0, -20.0, T15_DB),
        t20: time(-5.0, -25.0, T20_DB),
        t30: time(-5.0, -35.0, T30_DB),
        c50_db: clarity_db(0.050),
        c80_db: clarity_db(0.080),
        d50: late(0.050).map(|late| 1.0 - late),
        range_db: knee.range_db,
        width_hz,
    }
}

/// The part of a falling curve between two levels.
fn slope(curve_db: &[f64], from_db: f64, to_db: f64, rate_hz: f64) -> Result<Slope, Unmeasured> {
    let at = |level_db: f64| curve_db.iter().position(|&curve_db| curve_db <= level_db);
    let (Some(first), Some(last)) = (at(from_db), at(to_db)) else {
        return Err(Unmeasured::Because("the decay is cut off"));
    };
    let line = Line::through(&curve_db[first..last]).filter(|line| line.slope < 0.0);
    let line = line.ok_or(Unmeasured::Because("the decay is cut off"))?;
    Ok(Slope { t60_s: -60.0 / (line.slope * rate_hz), r2: line.r2 })
}

/// A straight line through values in equal steps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    /// Value at the first step.
    pub(super) first: f64,
    /// Change a step.
    pub(super) slope: f64,
    /// Share of the variance that it explains.
    pub(super) r2: f64,
}

impl Line {
    /// The line of least squares; `None` for fewer than three values or for equal ones.
    #[expect(clippy::cast_precision_loss, reason = "places in a few seconds of samples")]
    pub(super) fn through(values: &[f64]) -> Option<Self> {
        let n = values.len() as f64;
        if values.len() < 3 {
            return None;
        }
        let (middle, mean) = (0.5 * (n - 1.0), values.iter().sum::<f64>() / n);
        let (mut both, mut spread) = (0.0, 0.0);
        for (at, value) in values.iter().enumerate() {
            both += (at as f64 - middle) * (value - mean);
            spread += (value - mean).powi(2);
        }
        let places = n * (n * n - 1.0) / 12.0;
        let slope = both / places;
        let r2 = both * both / (places * spread);
        (spread > 0.0 && r2.is_finite()).then_some(Self { first: mean - slope * middle, slope, r2 })
    }
}

/// Where a decay meets the noise.
struct Knee {
    /// Sample behind the impulse.
    at: usize,
    /// Power of the noise.
    noise: f64,
    /// Slope of the decay before it, in dB a second.
    slope_db_s: f64,
    /// Highest level of 10 ms over the noise, in dB.
    range_db: f64,
}

/// Means of some samples, in dB, and what a step takes.
struct Means {
    levels_db: Vec<f64>,
    step_s: f64,
}

impl Means {
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places in a few seconds of samples"
    )]
    fn of(energy: &[f64], step_s: f64, rate_hz: f64) -> Self {
        let n = ((step_s * rate_hz) as usize).max(1);
        let level = |part: &[f64]| in_db(part.iter().sum::<f64>() / n as f64);
        let levels_db = energy.chunks_exact(n).map(level).collect();
        Self { levels_db, step_s: n as f64 / rate_hz }
    }

    fn top(&self) -> Option<usize> {
        (0..self.levels_db.len()).max_by(|&a, &b| self.levels_db[a].total_cmp(&self.levels_db[b]))
    }

    /// Slope in dB a second, and the time at which the line through some steps has a level.
    #[expect(clippy::cast_precision_loss, reason = "places in a few seconds of samples")]
    fn meets(&self, steps: std::ops::Range<usize>, level_db: f64) -> Option<(f64, f64)> {
        let from = steps.start as f64 + 0.5;
        let line = Line::through(self.levels_db.get(steps)?).filter(|line| line.slope < 0.0)?;
        let at_s = (from + (level_db - line.first) / line.slope) * self.step_s;
        Some((line.slope / self.step_s, at_s))
    }
}

impl Knee {
    /// Most rounds, and the change at which they end, in seconds.
    const ROUNDS: usize = 6;
    const SETTLED_S: f64 = 0.002;

    /// Least level of the impulse over the noise, in dB; how far over the noise the line is drawn, and the late part of it.
    const LEAST_DB: f64 = 15.0;
    const CLEAR_DB: f64 = 7.0;
    const LATE_DB: f64 = 25.0;

    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "places in a few seconds of samples"
    )]
    fn find(energy: &[f64], rate_hz: f64) -> Option<Self> {
        let n = energy.len();
        let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len().max(1) as f64;
        let mut noise = mean(&energy[n - n / 10..]);
        let mut means = Means::of(energy, 0.010, rate_hz);
        let top_db = means.levels_db[means.top()?];
        let (mut at_s, mut slope_db_s) = (f64::INFINITY, 0.0);
        for round in 0..Self::ROUNDS {
            let noise_db = in_db(noise);
            let top = means.top()?;
            if round == 0 {
                if top_db - noise_db < Self::LEAST_DB {
                    return None;
                }
                let tail = &means.levels_db[top..];
                let is_low = |&level_db: &f64| level_db < noise_db + Self::CLEAR_DB;
                let end = top + tail.iter().position(is_low).unwrap_or(tail.len());
                (slope_db_s, at_s) = means.meets(top..end, noise_db)?;
            }
            // Five steps in a fall of 10 dB.
            means = Means::of(energy, (-2.0 / slope_db_s).max(0.002), rate_hz);
            let behind = (at_s - 10.0 / slope_db_s).max(0.0) * rate_hz;
            let from = (behind as usize).min(n - n / 10);
            if (n - from) as f64 > 0.020 * rate_hz {
                noise = mean(&energy[from..]);
            }
            let noise_db = in_db(noise);
            let top = means.top()?;
            let is_late = |&(_, &level_db): &(usize, &f64)| {
                noise_db + Self::CLEAR_DB < level_db && level_db < noise_db + Self::LATE_DB
            };
            let until = ((at_s / means.step_s) as usize).min(means.levels_db.len());
            let late: Vec<usize> = means.levels_db[..until]
                .iter()
                .enumerate()
                .skip(top)
                .filter(is_late)
                .map(|(step, _)| step)
                .collect();
            let before_s = at_s;
            if let (Some(&first), Some(&last), true) = (late.first(), late.last(), late.len() > 3)
                && let Some((slope, meets_s)) = means.meets(first..last + 1, noise_db)
            {
                (slope_db_s, at_s) = (slope, meets_s);
            }
            if (at_s - before_s).abs() < Self::SETTLED_S {
                break;
            }
        }
        let at = ((at_s.max(0.0) * rate_hz) as usize).clamp(1, n);
        Some(Self { at, noise, slope_db_s, range_db: top_db - in_db(noise) })
    }
}

/// A power in dB; the least that single precision holds for none.
fn in_db(power: f64) -> f64 {
    10.0 * power.max(1e-30).log10()
}
