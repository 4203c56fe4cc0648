//! # Hum and buzz
//!
//! Mains frequency and its multiples under the sound of a channel, found where the channel is quiet.
//!
//! - **Formula:** spectra of 2.7 s windows (decimated to about 3 kHz, Blackman-Harris); per bin the 15th percentile
//!   over the quiet windows; a line at a multiple of 50 or 60 Hz is the highest bin within 0.2 Hz times the multiple,
//!   minus the median of bins 5 to 14 on either side. Hum is there if 4 or more of the multiples 1 to 12 (without
//!   those of 300 Hz, which both grids share) stand out by more than 8 dB on one grid within 0.2 Hz, and 2 more than
//!   on the other. Level: summed power of all multiples to 1 kHz that stand out, minus the loud level; buzz: the part
//!   above the tenth multiple
//! - **Unit:** dB re the channel's loud level; Hz
//! - **Range:** about -100 dB to 0 dB
//! - **Source:** nominal frequencies of IEC 60038 (from memory); the rule from trials on simulated clips (14 of 24
//!   found, none of 24 false)
//! - **Window:** the channel's quietest windows, those in stretches where every channel is quiet first
//! - **No value:** shorter than 2.7 s; nothing but digital silence; no quiet window
//! - **Misleads when:** a neighbour's amplifier hums into the microphone; a generator runs off its frequency by more
//!   than 0.2 Hz

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use crate::dsp::lanes::{Frame, Isa, for_each_pack};
use crate::dsp::{Decimator, Group};
use crate::unit::{Fact, Span, Unmeasured};

/// Rate that the signal is decimated to, at most half as much again.
const LOW_RATE_HZ: u32 = 3000;

/// Highest frequency kept; the lines go to 1 kHz.
const PASS_HZ: f64 = 1050.0;

/// Samples in a window at the low rate: 2.7 s, so that 49 Hz and 50 Hz are 2.7 bins apart.
const WINDOW: usize = 8192;

/// Length of a window in seconds, and so of the shortest recording that has one.
pub const NEEDS_S: f64 = 2.7;

/// New samples in a window.
const HOP: usize = WINDOW / 2;

/// Windows kept: the quietest ones.
const MAX_WINDOWS: usize = 16;

/// Half the main lobe of a Blackman-Harris window, in bins.
const LOBE: usize = 4;

/// How far a line stands out of its surroundings, in dB.
const LINE_DB: f64 = 8.0;

/// How far a grid may lie from its nominal frequency, in Hz.
const GRID_HZ: f64 = 0.2;

/// Lines of hum, and how many more than on the other grid.
const FEWEST_LINES: usize = 4;
const MORE_LINES: usize = 2;

/// The last multiple that counts as a line of hum.
const LAST_COUNTED: usize = 12;

/// The last multiple that is no buzz.
const LAST_HUM: usize = 10;

/// Highest line, in Hz.
const HIGHEST_HZ: f64 = 1000.0;

/// Windows that lie outside all-quiet stretches are quiet if they stay this far under the loud level.
const QUIET_DB: f64 = 25.0;

/// A comb below this is no hum, in dBFS: converters are no better, and tails of few steps have lines of their own.
const LOWEST_DBFS: f64 = -100.0;

/// Fewest windows of that kind, and as many as are trusted: a note that lasts through all would be taken for hum.
const FEWEST_OWN: usize = 4;
const MANY_OWN: usize = 12;

/// Measured spectrum of one quiet window.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// When.
    pub span: Span,
    /// Level below 1 kHz.
    pub level_dbfs: f64,
    /// Power in each bin: a sine's mean square stands in the bins of its main lobe.
    power: Vec<f32>,
}

/// The quietest windows of one channel, in order of time.
#[derive(Clone, Debug, PartialEq)]
pub struct Windows {
    /// Width of a bin, in Hz.
    bin_hz: f64,
    /// The windows.
    pub windows: Vec<Window>,
}

/// Hum of one channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Hum {
    /// Power of the comb re the loud level: a value where there is hum, else an upper bound.
    pub level_db: Fact,
    /// Mains frequency of the comb.
    pub mains_hz: Fact,
    /// Power above the tenth multiple re the loud level.
    pub buzz_db: Fact,
    /// Where it can be heard.
    pub evidence: Vec<Span>,
}

impl Hum {
    /// No figures, and why.
    pub fn missing(reason: &Unmeasured) -> Self {
        let missing = || Fact::missing(reason.clone());
        Self { level_db: missing(), mains_hz: missing(), buzz_db: missing(), evidence: Vec::new() }
    }
}

/// Keeps the spectra of the quietest windows.
pub struct HumMeter {
    low_rate_hz: f64,
    input_rate_hz: f64,
    fft: Arc<dyn RealToComplex<f32>>,
    shape: Vec<f32>,
    scratch: Vec<f32>,
    bins: Vec<Complex<f32>>,
    decimator: Decimator,
    decimated: Vec<Frame>,
    channels: Vec<Lane>,
}

struct Lane {
    low: Vec<f32>,
    n_windows: usize,
    kept: Vec<Window>,
}

impl HumMeter {
    /// A meter for `n_channels` at `rate_hz`.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        let factor = (rate_hz / LOW_RATE_HZ).max(1);
        let input_rate_hz = f64::from(rate_hz);
        let low_rate_hz = input_rate_hz / f64::from(factor);
        let pass_hz = PASS_HZ.min(0.4 * low_rate_hz);
        let lane = || Lane { low: Vec::with_capacity(2 * WINDOW), n_windows: 0, kept: Vec::new() };
        let fft = RealFftPlanner::new().plan_fft_forward(WINDOW);
        Self {
            low_rate_hz,
            input_rate_hz,
            shape: blackman_harris(),
            scratch: vec![0.0; WINDOW],
            bins: fft.make_output_vec(),
            fft,
            decimator: Decimator::new(input_rate_hz, factor as usize, pass_hz),
            decimated: Vec::new(),
            channels: (0..n_channels).map(|_| lane()).collect(),
        }
    }

    /// Takes a block.
    pub fn push(&mut self, group: Group<'_>) {
        for_each_pack(Isa::best(), group, |frames| self.take(frames));
    }

    /// The same, of samples that are packed already.
    pub fn take(&mut self, frames: &[Frame]) {
        self.decimated.clear();
        self.decimator.push(frames, &mut self.decimated);
        for channel_idx in 0..self.channels.len() {
            let samples = self.decimated.iter().map(|frame| frame[channel_idx]);
            self.channels[channel_idx].low.extend(samples);
            while self.channels[channel_idx].low.len() >= WINDOW {
                self.window(channel_idx);
            }
        }
    }

    /// Measures the first window that waits in a channel and drops what no later one needs.
    #[expect(clippy::cast_precision_loss, reason = "counts of samples are below 2^52")]
    fn window(&mut self, channel_idx: usize) {
        let lane = &mut self.channels[channel_idx];
        let samples = &lane.low[..WINDOW];
        let power = samples.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / WINDOW as f64;
        let level_dbfs = 10.0 * power.max(1e-30).log10();
        let loudest = (0..lane.kept.len())
            .max_by(|&a, &b| lane.kept[a].level_dbfs.total_cmp(&lane.kept[b].level_dbfs));
        let has_room = lane.kept.len() < MAX_WINDOWS;
        let is_quieter = loudest.is_some_and(|loudest| level_dbfs < lane.kept[loudest].level_dbfs);
        // Digital silence is quieter than any hum, and says nothing of it.
        let n_zeros = samples.iter().filter(|x| x.abs() <= 0.0).count();
        if (has_room || is_quieter) && n_zeros < WINDOW / 100 {
            let scaled = samples.iter().zip(&self.shape).map(|(x, shape)| x * shape);
            self.scratch.iter_mut().zip(scaled).for_each(|(slot, x)| *slot = x);
            // Lengths are those of the plan, so that the transform can't fail.
            let done = self.fft.process(&mut self.scratch, &mut self.bins);
            debug_assert!(done.is_ok(), "the buffers have the plan's lengths");
            let bin_hz = self.low_rate_hz / WINDOW as f64;
            let is_kept = |bin: &u32| f64::from(*bin) * bin_hz <= 1.1 * HIGHEST_HZ;
            // Counted first, so that no room is held for more.
            let n_kept = (0u32..).take_while(is_kept).count().min(self.bins.len());
            let power = self.bins[..n_kept].iter().map(|value| value.norm_sqr());
            let delay_s = self.decimator.delay() as f64 / self.input_rate_hz;
            let start_s = (lane.n_windows * HOP) as f64 / self.low_rate_hz - delay_s;
            let span = Span::new(start_s.max(0.0), start_s + WINDOW as f64 / self.low_rate_hz);
            let window = Window { span, level_dbfs, power: power.collect() };
            match loudest {
                Some(loudest) if !has_room => lane.kept[loudest] = window,
                _ => lane.kept.push(window),
            }
        }
        lane.n_windows += 1;
        lane.low.drain(..HOP);
    }

    /// The quietest windows of each channel.
    ///
    /// # Errors
    ///
    /// Inside: [`Unmeasured::TooShort`] without a whole window, [`Unmeasured::Silent`] if there is only digital silence.
    #[expect(clippy::cast_precision_loss, reason = "counts of samples are below 2^52")]
    pub fn finish(self) -> Vec<Result<Windows, Unmeasured>> {
        let (rate_hz, len_s) = (self.low_rate_hz, WINDOW as f64 / self.low_rate_hz);
        let finish = |mut lane: Lane| {
            if lane.n_windows == 0 {
                let have_s = lane.low.len() as f64 / rate_hz;
                return Err(Unmeasured::TooShort { have_s, need_s: len_s });
            }
            if lane.kept.is_empty() {
                return Err(Unmeasured::Silent);
            }
            lane.kept.sort_by(|a, b| a.span.start_s.total_cmp(&b.span.start_s));
            Ok(Windows { bin_hz: rate_hz / WINDOW as f64, windows: lane.kept })
        };
        self.channels.into_iter().map(finish).collect()
    }
}

/// Hum of a channel from its quietest windows.
///
/// Windows that lie in `quiet_spans` (stretches where every channel is quiet) are taken if there are any; else the
/// channel's own quiet windows, with less confidence.
pub fn judge(windows: &Windows, quiet_spans: &[Span], loud_level_dbfs: f64) -> Hum {
    /// Share of a window that lies in a quiet stretch.
    const INSIDE: f64 = 0.9;
    let is_inside = |window: &&Window| {
        let shared = quiet_spans.iter().filter_map(|span| span.shared(window.span));
        shared.map(Span::length_s).sum::<f64>() >= INSIDE * window.span.length_s()
    };
    let is_quiet = |window: &&Window| window.level_dbfs <= loud_level_dbfs - QUIET_DB;
    let mut chosen: Vec<&Window> = windows.windows.iter().filter(is_inside).collect();
    let mut confidence = if chosen.len() > 1 { 0.95 } else { 0.85 };
    if chosen.is_empty() {
        chosen = windows.windows.iter().filter(is_quiet).collect();
        confidence = if chosen.len() >= MANY_OWN { 0.85 } else { 0.7 };
        if chosen.len() < FEWEST_OWN {
            return Hum::missing(&Unmeasured::NoQuietStretch);
        }
    }
    let comb = Comb::new(windows.bin_hz, &chosen);
    let in_db = |power: f64| 10.0 * power.max(1e-30).log10() - loud_level_dbfs;
    let is_heard = |grid_hz: &f64| 10.0 * comb.power_of_lines(*grid_hz, 1).log10() > LOWEST_DBFS;
    match comb.grid_hz().filter(is_heard) {
        Some(grid_hz) => {
            let buzz = comb.power_of_lines(grid_hz, LAST_HUM + 1);
            Hum {
                level_db: Fact::sure(in_db(comb.power_of_lines(grid_hz, 1)), confidence),
                mains_hz: Fact::sure(grid_hz, confidence),
                buzz_db: if buzz > 0.0 {
                    Fact::sure(in_db(buzz), confidence)
                } else {
                    let at_most = in_db(comb.power_at_lines(grid_hz, LAST_HUM + 1));
                    Fact::AtMost { at_most, confidence }
                },
                evidence: joined(chosen.iter().map(|window| window.span)),
            }
        }
        None => {
            let bound = |first| {
                let power = comb.power_at_lines(50.0, first).max(comb.power_at_lines(60.0, first));
                Fact::AtMost { at_most: in_db(power), confidence }
            };
            Hum {
                level_db: bound(1),
                mains_hz: Fact::missing(Unmeasured::Because("no mains comb stands out")),
                buzz_db: bound(LAST_HUM + 1),
                evidence: Vec::new(),
            }
        }
    }
}

/// What the quiet windows have in common, bin by bin.
struct Comb {
    bin_hz: f64,
    /// 15th percentile over the windows: what sounds in one window alone is left out.
    low: Vec<f64>,
}

impl Comb {
    fn new(bin_hz: f64, windows: &[&Window]) -> Self {
        let n_bins = windows.iter().map(|window| window.power.len()).min().unwrap_or(0);
        let rank = (windows.len().saturating_sub(1) * 15 + 50) / 100;
        let low = (0..n_bins).map(|bin| {
            let mut powers: Vec<f64> =
                windows.iter().map(|window| f64::from(window.power[bin])).collect();
            *powers.select_nth_unstable_by(rank, f64::total_cmp).1
        });
        Self { bin_hz, low: low.collect() }
    }

    /// Frequency of the mains, if its comb stands out.
    fn grid_hz(&self) -> Option<f64> {
        let [fifty, sixty] = [50.0, 60.0].map(|nominal_hz| self.lines(nominal_hz));
        let (lines, other) =
            if fifty.len() > sixty.len() { (fifty, sixty) } else { (sixty, fifty) };
        if lines.len() < FEWEST_LINES || lines.len() < other.len() + MORE_LINES {
            return None;
        }
        median(lines)
    }

    /// For each multiple that stands out near the grid: the mains frequency that it speaks for.
    #[expect(clippy::cast_precision_loss, reason = "a multiple is small")]
    fn lines(&self, nominal_hz: f64) -> Vec<f64> {
        let is_shared = |multiple: &usize| (*multiple as f64 * nominal_hz) % 300.0 < 1.0;
        let lines = (1..=LAST_COUNTED).filter(|multiple| !is_shared(multiple));
        let speaks_for: Vec<f64> = lines
            .filter_map(|multiple| {
                let line = self.line(nominal_hz, GRID_HZ, multiple)?;
                (line.stands_out_db > LINE_DB).then_some(line.at_hz / multiple as f64)
            })
            .filter(|grid_hz| (grid_hz - nominal_hz).abs() <= GRID_HZ)
            .collect();
        // One mains drives all lines: those that speak for another frequency are notes.
        /// How well a line's place is known at the first multiple: half a bin.
        const AGREE_HZ: f64 = 0.15;
        let Some(middle_hz) = median(speaks_for.clone()) else { return Vec::new() };
        speaks_for.into_iter().filter(|hz| (hz - middle_hz).abs() <= AGREE_HZ).collect()
    }

    /// The highest bin near a multiple of the grid.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "bin numbers are small and positive"
    )]
    fn line(&self, grid_hz: f64, slack_hz: f64, multiple: usize) -> Option<Line> {
        let times = multiple as f64;
        let from = ((grid_hz - slack_hz) * times / self.bin_hz - 0.5).round() as usize;
        let to = ((grid_hz + slack_hz) * times / self.bin_hz + 0.5).round() as usize;
        let outside = to + 14;
        if outside >= self.low.len() || from < 15 {
            return None;
        }
        let bin = (from..=to).max_by(|&a, &b| self.low[a].total_cmp(&self.low[b]))?;
        let around = (bin - 14..=bin - 5).chain(bin + 5..=bin + 14).map(|bin| self.low[bin]);
        let floor = median(around.collect())?;
        let at_db = |bin: usize| 10.0 * self.low[bin].max(1e-30).log10();
        // The logarithm of a Blackman-Harris main lobe is nearly a parabola.
        let (below, peak, above) = (at_db(bin - 1), at_db(bin), at_db(bin + 1));
        let bend = below - 2.0 * peak + above;
        let shift = if bend < 0.0 { 0.5 * (below - above) / bend } else { 0.0 };
        let power = (bin - LOBE..=bin + LOBE).map(|bin| self.low[bin]).sum::<f64>();
        Some(Line {
            at_hz: (bin as f64 + shift.clamp(-1.0, 1.0)) * self.bin_hz,
            stands_out_db: peak - 10.0 * floor.max(1e-30).log10(),
            power,
            floor_power: floor * (2 * LOBE + 1) as f64,
        })
    }

    /// The lines of the grid from a multiple on, up to 1 kHz.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a multiple is small and positive"
    )]
    fn comb(&self, grid_hz: f64, first: usize) -> impl Iterator<Item = Line> + '_ {
        /// What the place of the grid is known by, in Hz.
        const KNOWN_HZ: f64 = 0.05;
        let last = (HIGHEST_HZ / grid_hz + 0.1) as usize;
        (first..=last).filter_map(move |multiple| self.line(grid_hz, KNOWN_HZ, multiple))
    }

    /// Power of the lines that stand out, without the floor under them.
    fn power_of_lines(&self, grid_hz: f64, first: usize) -> f64 {
        let lines = self.comb(grid_hz, first).filter(|line| line.stands_out_db > LINE_DB);
        lines.map(|line| (line.power - line.floor_power).max(0.0)).sum()
    }

    /// Power at the places of the lines, whether they stand out or not.
    fn power_at_lines(&self, grid_hz: f64, first: usize) -> f64 {
        self.comb(grid_hz, first).map(|line| line.power).sum()
    }
}

struct Line {
    at_hz: f64,
    stands_out_db: f64,
    power: f64,
    floor_power: f64,
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Spans in order of time, those that touch joined.
fn joined(spans: impl Iterator<Item = Span>) -> Vec<Span> {
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.start_s <= last.end_s => last.end_s = last.end_s.max(span.end_s),
            _ => joined.push(span),
        }
    }
    joined
}

/// Blackman-Harris window (F. J. Harris, Proc. IEEE 66(1), 1978), scaled so that the powers of the bins in a main lobe
/// sum to the mean square of the sine.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    reason = "a window has some thousands of samples, stored as f32"
)]
fn blackman_harris() -> Vec<f32> {
    const TERMS: [f64; 4] = [0.35875, -0.48829, 0.14128, -0.01168];
    let shape = |n: usize| -> f64 {
        let angle = 2.0 * std::f64::consts::PI * n as f64 / WINDOW as f64;
        TERMS.iter().zip(0..).map(|(term, k)| term * (f64::from(k) * angle).cos()).sum()
    };
    let shape: Vec<f64> = (0..WINDOW).map(shape).collect();
    let energy: f64 = shape.iter().map(|x| x * x).sum();
    // One-sided: the power of a sine stands half in the positive bins.
    let scale = (2.0 / (WINDOW as f64 * energy)).sqrt();
    shape.iter().map(|x| (x * scale) as f32).collect()
}
