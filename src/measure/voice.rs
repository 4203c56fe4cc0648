//! # Breath blasts and sharp S sounds
//!
//! Bursts of air that P and B send into a voice microphone, and how far S sounds stand out.
//!
//! - **Formula:** levels of 5 ms, over 20 ms, in three bands (15-60 Hz, 90-250 Hz, 250-3000 Hz). A blast is a maximum
//!   of the lowest band within 14 dB of the voice (90th percentile of the highest band), 15 dB over its own median in
//!   2 s, no more than 3 dB under the middle band, 15 to 350 ms wide at -10 dB, with voice from 0.15 s before to 0.3 s
//!   after; those that begin within 50 ms after or 30 ms before the onset of a drum or bass are theirs. S sounds: 99th
//!   percentile of 30 ms levels in 4.5 to 9 kHz while active, minus the loud level
//! - **Unit:** blasts a minute of voice; dB re the loud level
//! - **Range:** 0 to about 30 a minute; -30 to 0 dB
//! - **Source:** blasts: own trials on simulated voices (F1 0.96; with a band up to 90 Hz male pitch made it 0.68);
//!   S sounds: 30 ms levels are common practice
//! - **Window:** while the voice is active
//! - **No value:** under 20 s of voice
//! - **Misleads when:** steps shake the stand (blasts); cymbals spill into the microphone (S sounds)

use super::Trace;
use crate::dsp::biquad::{Biquad, band_pass};
use crate::dsp::lanes::{Frame, Framer, Isa, LANES, State64, for_each_pack, weighted_energy};
use crate::dsp::percentile::percentile;
use crate::dsp::steps::Steps;
use crate::dsp::{Decimator, Group};
use crate::unit::{Span, Unmeasured};

/// Rate that the low bands are measured at, at most an eighth more; and the band kept.
const LOW_RATE_HZ: u32 = 8000;
const PASS_HZ: f64 = 3000.0;

/// Bands of blasts, of the fundamental, of the voice, in Hz.
const BANDS_HZ: [[f64; 2]; 3] = [[15.0, 60.0], [90.0, 250.0], [250.0, 3000.0]];

/// Band of S sounds, in Hz, and how many of its steps make a second, times three: 30 ms.
const ESS_HZ: [f64; 2] = [4500.0, 9000.0];
const TENTHS_PER_S: u32 = 100;
const TENTHS_IN_ESS: u32 = 3;

/// Step of the levels, in seconds, and how many are averaged.
const STEP_S: f64 = 0.005;
const SMOOTH: usize = 4;

/// Steps on each side that a blast is judged in: 1 s.
const SIDE: usize = 200;

/// A blast is the maximum within this many steps.
const APART: usize = 20;

/// How far it stands over its median, over the fundamental's band, and under the voice, in dB.
const OVER_MEDIAN_DB: f32 = 15.0;
const OVER_PITCH_DB: f32 = -3.0;
const UNDER_VOICE_DB: f64 = 14.0;

/// Voice is there within this of its 90th percentile, in dB.
const VOICE_DB: f64 = 15.0;

/// Width of a blast at -10 dB, in steps.
const WIDTH_DB: f32 = 10.0;
const WIDTHS: std::ops::RangeInclusive<usize> = 4..=69;

/// Blasts below this are not kept, in dBFS.
const LOWEST_DBFS: f32 = -60.0;

/// Blasts that begin within this of an onset belong to the drum or bass: before it, and after it (the way over the
/// stage takes up to 20 ms, the filter about as long).
const BEFORE_ONSET_S: f64 = 0.030;
const AFTER_ONSET_S: f64 = 0.050;

/// How close to activity a blast must lie, in seconds.
const NEAR_S: f64 = 0.1;

/// Voice that the figures need, in seconds.
const VOICE_NEED_S: f64 = 20.0;

/// A level that stands for nothing.
const NOTHING_DB: f32 = -120.0;

/// A burst in the lowest band that may be a blast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Burst {
    /// Where it rises, in seconds.
    pub at_s: f64,
    /// Its level.
    pub level_dbfs: f64,
    /// Highest level of the voice's band around it.
    pub voice_dbfs: f64,
}

/// What a voice channel holds of bursts and S sounds.
#[derive(Clone, Debug, PartialEq)]
pub struct VoiceTrack {
    /// Bursts in the lowest band, in order.
    pub bursts: Vec<Burst>,
    /// 90th percentile of the voice's band.
    pub voice_dbfs: f64,
    /// Power of 4.5 to 9 kHz in steps of 30 ms.
    pub ess: Trace,
}

/// Breath blasts of a voice.
#[derive(Clone, Debug, PartialEq)]
pub struct Pops {
    /// Blasts a minute of voice.
    pub per_minute: f64,
    /// When, in seconds.
    pub at_s: Vec<f64>,
}

/// The blasts of a voice while it is active, without those that fall on an onset of a drum or bass.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`]; [`Unmeasured::TooLittleActive`] below 20 s of voice.
pub fn pops(track: &VoiceTrack, active: &[Span], onsets_s: &[f64]) -> Result<Pops, Unmeasured> {
    let active_s = enough(active)?;
    let is_blast = |burst: &&Burst| {
        burst.level_dbfs > track.voice_dbfs - UNDER_VOICE_DB
            && burst.voice_dbfs > track.voice_dbfs - VOICE_DB
            && active
                .iter()
                .any(|span| (span.start_s - NEAR_S..span.end_s + NEAR_S).contains(&burst.at_s))
            && !onsets_s.iter().any(|onset_s| {
                (onset_s - BEFORE_ONSET_S..=onset_s + AFTER_ONSET_S).contains(&burst.at_s)
            })
    };
    let at_s: Vec<f64> = track.bursts.iter().filter(is_blast).map(|burst| burst.at_s).collect();
    #[expect(clippy::cast_precision_loss, reason = "a count of blasts is small")]
    let per_minute = 60.0 * at_s.len() as f64 / active_s;
    Ok(Pops { per_minute, at_s })
}

/// How far S sounds stand out of a voice, re its loud level, in dB; the spans are in order and apart.
///
/// # Errors
///
/// [`Unmeasured::NeverActive`]; [`Unmeasured::TooLittleActive`] below 20 s of voice.
pub fn ess_db(track: &VoiceTrack, active: &[Span], loud_dbfs: f64) -> Result<f64, Unmeasured> {
    enough(active)?;
    let step_s = track.ess.step_s();
    #[expect(clippy::cast_precision_loss, reason = "counts of steps are small")]
    // The spans are in order and apart: the first that ends later is the only one that may hold a step.
    let is_active = |step: usize| {
        let middle_s = (step as f64 + 0.5) * step_s;
        let at = active.partition_point(|span| span.end_s <= middle_s);
        active.get(at).is_some_and(|span| span.holds(middle_s))
    };
    let all = track.ess.levels_in_db(0..track.ess.len()).into_iter().enumerate();
    let levels: Vec<f64> =
        all.filter(|(step, _)| is_active(*step)).map(|(_, level_db)| level_db).collect();
    percentile(&levels, 0.99).map(|ess| ess - loud_dbfs).ok_or(Unmeasured::NeverActive)
}

fn enough(active: &[Span]) -> Result<f64, Unmeasured> {
    let have_s: f64 = active.iter().map(|span| span.length_s()).sum();
    if active.is_empty() {
        Err(Unmeasured::NeverActive)
    } else if have_s < VOICE_NEED_S {
        Err(Unmeasured::TooLittleActive { have_s, need_s: VOICE_NEED_S })
    } else {
        Ok(have_s)
    }
}

/// Finds bursts and follows S sounds, for voice channels.
pub struct VoiceMeter {
    isa: Isa,
    ess: Band,
    steps: Steps,
    framer: Framer,
    traces: Vec<Trace>,
    decimator: Decimator,
    low: Vec<Frame>,
    low_framer: Framer,
    bands: [Band; 3],
    bursts: Vec<Bursts>,
}

/// A band-pass over eight channels.
#[derive(Clone, Copy, Debug)]
struct Band {
    sections: [Biquad; 2],
    state: State64<2>,
}

impl Band {
    fn new(rate_hz: f64, [low_hz, high_hz]: [f64; 2]) -> Self {
        let edges_hz = [low_hz.min(0.4 * rate_hz), high_hz.min(0.45 * rate_hz)];
        let sections = band_pass(rate_hz, edges_hz[0], edges_hz[1], 2);
        Self { sections: [sections[0], sections[1]], state: [[[0.0; LANES]; 2]; 2] }
    }

    /// Mean power of the band in some frames.
    fn power(&mut self, isa: Isa, frames: &[Frame]) -> [f64; LANES] {
        let mut energy = [0.0; LANES];
        weighted_energy(isa, frames, &self.sections, &mut self.state, &mut energy);
        energy.map(|energy| energy / to_f64(frames.len()))
    }
}

impl VoiceMeter {
    /// A meter for `n_channels` at `rate_hz`.
    ///
    /// # Panics
    ///
    /// If there are more than eight channels.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a step has some tens of samples"
    )]
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        assert!(n_channels <= LANES, "a group holds up to {LANES} channels");
        let isa = Isa::best();
        let factor = (rate_hz / LOW_RATE_HZ).max(1);
        let low_rate_hz = f64::from(rate_hz) / f64::from(factor);
        let pass_hz = PASS_HZ.min(0.4 * low_rate_hz);
        let decimator = Decimator::new(f64::from(rate_hz), factor as usize, pass_hz);
        let delay_s = to_f64(decimator.delay()) / f64::from(rate_hz);
        let step_len = (STEP_S * low_rate_hz).round() as usize;
        let mut steps = Steps::new(rate_hz, TENTHS_PER_S);
        let ess_len = ess_step(&mut steps);
        let trace = Trace::new(f64::from(TENTHS_IN_ESS) / f64::from(TENTHS_PER_S));
        let bursts = || Bursts::new(to_f64(step_len) / low_rate_hz, delay_s);
        Self {
            isa,
            ess: Band::new(f64::from(rate_hz), ESS_HZ),
            steps,
            framer: Framer::new(ess_len),
            traces: vec![trace; n_channels],
            decimator,
            low: Vec::new(),
            low_framer: Framer::new(step_len),
            bands: BANDS_HZ.map(|band_hz| Band::new(low_rate_hz, band_hz)),
            bursts: (0..n_channels).map(|_| bursts()).collect(),
        }
    }

    /// Takes a block.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.isa, group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        let Self { isa, ess, steps, framer, traces, .. } = self;
        framer.push(frames, |frames| {
            for (trace, power) in traces.iter_mut().zip(ess.power(*isa, frames)) {
                trace.push_power(power);
            }
            ess_step(steps)
        });
        let Self { isa, decimator, low, low_framer, bands, bursts, .. } = self;
        low.clear();
        decimator.push(frames, low);
        low_framer.push(low, |frames| {
            let powers = bands.each_mut().map(|band| band.power(*isa, frames));
            for (lane, bursts) in bursts.iter_mut().enumerate() {
                bursts.push(powers.map(|power| power[lane]));
            }
            frames.len()
        });
    }

    /// What each channel holds.
    pub fn finish(self) -> Vec<VoiceTrack> {
        let finish = |(bursts, ess): (Bursts, Trace)| {
            let (bursts, voice_dbfs) = bursts.finish();
            VoiceTrack { bursts, voice_dbfs, ess }
        };
        self.bursts.into_iter().zip(self.traces).map(finish).collect()
    }
}

/// Samples in the next 30 ms.
fn ess_step(steps: &mut Steps) -> usize {
    (0..TENTHS_IN_ESS).map(|_| steps.take()).sum()
}

#[expect(clippy::cast_precision_loss, reason = "counts of samples are below 2^52")]
fn to_f64(n: usize) -> f64 {
    n as f64
}

/// Levels of the three bands around the step that is judged, and what was found.
struct Bursts {
    step_s: f64,
    delay_s: f64,
    n_steps: usize,
    /// Powers of the last [`SMOOTH`] steps.
    recent: [[f64; 3]; SMOOTH],
    /// Levels of the steps from [`SIDE`] before to [`SIDE`] behind the one that is judged.
    around: Vec<[f32; 3]>,
    found: Vec<Burst>,
    /// How many steps have the voice's band in each decibel from -120 dBFS up.
    voice: [u32; 121],
}

impl Bursts {
    fn new(step_s: f64, delay_s: f64) -> Self {
        Self {
            step_s,
            delay_s,
            n_steps: 0,
            recent: [[0.0; 3]; SMOOTH],
            around: vec![[NOTHING_DB; 3]; SIDE],
            found: Vec::new(),
            voice: [0; 121],
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a level is clamped to the classes there are"
    )]
    fn push(&mut self, powers: [f64; 3]) {
        self.recent.rotate_left(1);
        self.recent[SMOOTH - 1] = powers;
        let mean = |band: usize| self.recent.iter().map(|powers| powers[band]).sum::<f64>() / 4.0;
        let levels =
            [0, 1, 2].map(|band| (10.0 * mean(band).max(1e-12).log10()).max(-120.0) as f32);
        self.voice[(levels[2] + 120.0).clamp(0.0, 120.0) as usize] += 1;
        self.step(levels);
    }

    fn step(&mut self, levels: [f32; 3]) {
        self.around.push(levels);
        if self.around.len() < 4 * SIDE {
            // Judged in rows, so that the levels are moved along rarely.
            return;
        }
        self.judge_row();
    }

    /// Judges every step that has a whole side behind it, and drops those that no later one needs.
    fn judge_row(&mut self) {
        let n_judged = self.around.len().saturating_sub(2 * SIDE);
        for middle in SIDE..SIDE + n_judged {
            if let Some(burst) = self.judge(middle) {
                self.found.push(burst);
            }
            self.n_steps += 1;
        }
        self.around.drain(..n_judged);
    }

    fn judge(&self, middle: usize) -> Option<Burst> {
        let low = |step: usize| self.around[step][0];
        let level = low(middle);
        let pitch = (middle - 3..=middle + 3).map(|step| self.around[step][1]);
        let is_top = || (middle - APART..=middle + APART).all(|step| low(step) <= level);
        // The first of equal levels: those before it are lower.
        let is_first = low(middle - 1) < level;
        if level < LOWEST_DBFS
            || level <= pitch.fold(f32::MAX, f32::min) + OVER_PITCH_DB
            || !is_first
            || !is_top()
        {
            return None;
        }
        let mut lows: Vec<f32> =
            self.around[middle - SIDE..=middle + SIDE].iter().map(|levels| levels[0]).collect();
        let median = *lows.select_nth_unstable_by(SIDE, f32::total_cmp).1;
        let is_wide = |step: &usize| low(*step) > level - WIDTH_DB;
        let rise = (middle - SIDE..middle).rev().find(|step| !is_wide(step))?;
        let fall = (middle + 1..=middle + SIDE).find(|step| !is_wide(step))?;
        if level <= median + OVER_MEDIAN_DB || !WIDTHS.contains(&(fall - rise)) {
            return None;
        }
        let voice = self.around[middle - 30..middle + 60].iter().map(|levels| levels[2]);
        // The smoothing lags by two steps, so that the step of the rise is the right one.
        let at_s = to_f64(self.n_steps + rise + 1) * self.step_s;
        let at_s = at_s - to_f64(middle) * self.step_s - self.delay_s;
        Some(Burst {
            at_s: at_s.max(0.0),
            level_dbfs: f64::from(level),
            voice_dbfs: f64::from(voice.fold(NOTHING_DB, f32::max)),
        })
    }

    fn finish(mut self) -> (Vec<Burst>, f64) {
        for _ in 0..SIDE {
            self.around.push([NOTHING_DB; 3]);
        }
        self.judge_row();
        let n_all: u32 = self.voice.iter().sum();
        let mut n_over = 0;
        let mut level_dbfs = 0.0;
        for (class, n_steps) in self.voice.iter().enumerate().rev() {
            n_over += n_steps;
            level_dbfs = to_f64(class) - 119.5;
            if 10 * n_over >= n_all {
                break;
            }
        }
        (self.found, level_dbfs)
    }
}
