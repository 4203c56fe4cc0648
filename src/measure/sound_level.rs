//! # Sound level
//!
//! How loud it was at a calibrated measuring microphone in the room.
//!
//! - **Formula:** A- or C-weighted mean square plus the calibration. `LAeq`, `LCeq`: mean over the whole recording, or over
//!   windows of 15 and 30 minutes that move by a second; `LAFmax`: highest value of `y += (x² - y)(1 - exp(-1/(0.125 s fs)))`;
//!   `LCpeak`: highest size of the C-weighted signal between its samples, `20 lg`
//! - **Unit:** dB re 20 µPa
//! - **Range:** 20 dB to 140 dB, as far as the microphone and its preamplifier go; weighting within class 1 of IEC 61672-1
//!   at rates of 44.1 kHz and above
//! - **Source:** IEC 61672-1:2013 (weightings, time weighting F, `LCpeak`); averages of 15 min: World Health Organization, Global
//!   standard for safe listening venues and events, 2022; of 30 min: DIN 15905-5
//! - **Window:** whole recording, kept as energies of one second
//! - **No value:** no calibration, a silent recording, a recording shorter than the window
//! - **Misleads when:** the recorder's gain was moved after it was calibrated, or follows the level by itself; the microphone
//!   clipped; the hall is louder elsewhere than where it stood. It is a reason to measure properly, no measurement for the
//!   record

use crate::dsp::biquad::Biquad;
use crate::dsp::lanes::{Frame, Framer, Isa, LANES, State64, filter_f64, for_each_pack};
use crate::dsp::oversample::PeakFinder;
use crate::dsp::steps::Steps;
use crate::dsp::{Group, weighting};
use crate::unit::{Span, Unmeasured};

/// Time constant of the weighting F, in seconds (IEC 61672-1).
const FAST_S: f64 = 0.125;

/// Windows that limits for audiences speak of, in minutes.
pub const WINDOWS_MIN: [usize; 2] = [15, 30];

/// What a calibration can reasonably be: the sound level of a mean square of 1.
const LAWFUL_DB: std::ops::RangeInclusive<f64> = 40.0..=200.0;

/// What turns the levels of one recording into sound levels. There is no way to a sound level without it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibration {
    offset_db: f64,
}

impl Calibration {
    /// The sound level that a mean square of 1 stands for (0 dBFS; a full-scale sine has -3.01 dBFS). `None` if it is no number
    /// or no microphone could have it (40 dB to 200 dB).
    pub fn new(offset_db: f64) -> Option<Self> {
        LAWFUL_DB.contains(&offset_db).then_some(Self { offset_db })
    }

    /// From a calibrator's tone: its sound level, and the level it was recorded at. `None` as in [`Calibration::new`].
    pub fn from_tone(tone_db: f64, recorded_dbfs: f64) -> Option<Self> {
        Self::new(tone_db - recorded_dbfs)
    }

    /// Sound level of a mean square above 0.
    fn level_db(self, power: f64) -> f64 {
        10.0 * power.log10() + self.offset_db
    }
}

/// The highest value and where it lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Highest {
    /// The level, in dB.
    pub level_db: f64,
    /// When.
    pub span: Span,
}

/// Sound level over a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundLevel {
    calibration: Calibration,
    /// Whole recording, A-weighted.
    pub laeq_db: f64,
    /// Whole recording, C-weighted.
    pub lceq_db: f64,
    /// Highest level with the time weighting F, A-weighted; the span is the moment.
    pub lafmax: Highest,
    /// Highest C-weighted peak; the span is the moment.
    pub lcpeak: Highest,
    /// Length of the recording, in seconds.
    pub length_s: f64,
    /// A-weighted mean square of each full second.
    seconds: Vec<f64>,
}

impl SoundLevel {
    /// The loudest `minutes` minutes, A-weighted average.
    ///
    /// # Errors
    ///
    /// [`Unmeasured::TooShort`] if the recording has fewer, [`Unmeasured::Silent`] if all such windows are.
    #[expect(clippy::cast_precision_loss, reason = "counts of seconds are small")]
    pub fn loudest(&self, minutes: usize) -> Result<Highest, Unmeasured> {
        let need = 60 * minutes;
        if need == 0 || self.seconds.len() < need {
            return Err(Unmeasured::TooShort { have_s: self.length_s, need_s: need as f64 });
        }
        let mean = |window: &[f64]| window.iter().sum::<f64>() / need as f64;
        let means = self.seconds.windows(need).map(mean).enumerate();
        let (at, power) = means.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, 0.0));
        if power <= 0.0 {
            return Err(Unmeasured::Silent);
        }
        let level_db = self.calibration.level_db(power);
        Ok(Highest { level_db, span: Span::new(at as f64, (at + need) as f64) })
    }

    /// A-weighted average of each full second that is not silent.
    pub fn seconds_db(&self) -> impl Iterator<Item = f64> {
        let powers = self.seconds.iter().filter(|&&power| power > 0.0);
        powers.map(|&power| self.calibration.level_db(power))
    }
}

/// Measures [`SoundLevel`]. It keeps 8 bytes a second and channel.
pub struct SoundLevelMeter {
    rate_hz: f64,
    framer: Framer,
    steps: Steps,
    weighing: Weighing,
}

/// Everything that happens to a second of sound.
struct Weighing {
    isa: Isa,
    sections: ([Biquad; 3], [Biquad; 2]),
    states: (State64<3>, State64<2>),
    a_frames: Vec<Frame>,
    c_frames: Vec<Frame>,
    n_samples: u64,
    rise: f64,
    channels: Vec<Channel>,
}

struct Channel {
    calibration: Calibration,
    plane: Vec<f32>,
    finder: PeakFinder,
    a_sum: f64,
    c_sum: f64,
    fast: f64,
    fast_top: f64,
    fast_top_at: u64,
    seconds: Vec<f64>,
}

impl SoundLevelMeter {
    /// A meter for microphones of one rate, one a calibration.
    pub fn new(rate_hz: u32, calibrations: &[Calibration]) -> Self {
        let mut steps = Steps::new(rate_hz, 1);
        let rate = f64::from(rate_hz);
        let isa = Isa::best();
        let channel = |&calibration: &Calibration| Channel {
            calibration,
            plane: Vec::new(),
            finder: PeakFinder::new(isa),
            a_sum: 0.0,
            c_sum: 0.0,
            fast: 0.0,
            fast_top: 0.0,
            fast_top_at: 0,
            seconds: Vec::new(),
        };
        let weighing = Weighing {
            isa,
            sections: (weighting::a(rate_hz), weighting::c(rate_hz)),
            states: ([[[0.0; LANES]; 2]; 3], [[[0.0; LANES]; 2]; 2]),
            a_frames: Vec::new(),
            c_frames: Vec::new(),
            n_samples: 0,
            rise: -(-1.0 / (FAST_S * rate)).exp_m1(),
            channels: calibrations.iter().map(channel).collect(),
        };
        Self { rate_hz: rate, framer: Framer::new(steps.take()), steps, weighing }
    }

    /// Takes the next samples.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(self.weighing.isa, group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        let Self { framer, steps, weighing, .. } = self;
        framer.push(frames, |second| {
            weighing.second(second, true);
            steps.take()
        });
    }

    /// The sound levels, one a microphone.
    ///
    /// # Errors
    ///
    /// Inside: [`Unmeasured::Silent`] if nothing but digital silence was heard.
    pub fn finish(self) -> Vec<Result<SoundLevel, Unmeasured>> {
        let Self { rate_hz, framer, mut weighing, .. } = self;
        weighing.second(framer.rest(), false);
        let n_samples = weighing.n_samples;
        weighing.channels.into_iter().map(|channel| channel.finish(n_samples, rate_hz)).collect()
    }
}

impl Weighing {
    /// Takes a second, or what is left of one.
    #[expect(clippy::cast_precision_loss, reason = "a second has few samples")]
    fn second(&mut self, frames: &[Frame], is_full: bool) {
        let Self { isa, sections, states, a_frames, c_frames, channels, .. } = self;
        a_frames.clear();
        a_frames.extend_from_slice(frames);
        c_frames.clear();
        c_frames.extend_from_slice(frames);
        filter_f64(*isa, a_frames, &sections.0, &mut states.0);
        filter_f64(*isa, c_frames, &sections.1, &mut states.1);
        for (lane, channel) in channels.iter_mut().enumerate() {
            let a_energy = channel.take_a(a_frames, lane, self.n_samples, self.rise);
            if is_full {
                channel.seconds.push(a_energy / frames.len() as f64);
            }
            channel.take_c(c_frames, lane);
        }
        self.n_samples += frames.len() as u64;
    }
}

impl Channel {
    /// Takes A-weighted samples; gives their energy.
    fn take_a(&mut self, frames: &[Frame], lane: usize, from: u64, rise: f64) -> f64 {
        let mut energy = 0.0;
        for (at, frame) in (from..).zip(frames) {
            let square = f64::from(frame[lane]).powi(2);
            energy += square;
            self.fast += rise * (square - self.fast);
            if self.fast > self.fast_top {
                (self.fast_top, self.fast_top_at) = (self.fast, at);
            }
        }
        self.a_sum += energy;
        energy
    }

    fn take_c(&mut self, frames: &[Frame], lane: usize) {
        self.plane.clear();
        self.plane.extend(frames.iter().map(|frame| frame[lane]));
        self.c_sum += self.plane.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
        self.finder.push(&self.plane);
    }

    #[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
    fn finish(self, n_samples: u64, rate_hz: f64) -> Result<SoundLevel, Unmeasured> {
        let peak = self.finder.finish().ok_or(Unmeasured::Silent)?;
        if self.a_sum <= 0.0 || self.c_sum <= 0.0 || self.fast_top <= 0.0 {
            return Err(Unmeasured::Silent);
        }
        let highest = |power: f64, at: u64| {
            let at_s = at as f64 / rate_hz;
            Highest { level_db: self.calibration.level_db(power), span: Span::new(at_s, at_s) }
        };
        Ok(SoundLevel {
            calibration: self.calibration,
            laeq_db: self.calibration.level_db(self.a_sum / n_samples as f64),
            lceq_db: self.calibration.level_db(self.c_sum / n_samples as f64),
            lafmax: highest(self.fast_top, self.fast_top_at),
            lcpeak: highest(peak.size.powi(2), peak.sample),
            length_s: n_samples as f64 / rate_hz,
            seconds: self.seconds,
        })
    }
}
