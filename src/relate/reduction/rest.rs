//! The gain between two taps while nothing is turned down.
//!
//! Takes the way between the taps and the level of the raw one, gives the gain in pauses that are long and quiet enough for a
//! compressor to rest. Frequencies weigh as in the programme: what sounds in a pause is not what the filter was learnt from.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

use super::filter::{BLOCKS_PER_S, Way};
use crate::dsp::percentile::percentile;
use crate::dsp::window::hann;

/// Quiet before a block that is taken for rest: how far under the programme, in dB, and for how long, in seconds.
const RESTS: [(f64, f64); 3] = [(20.0, 1.0), (18.0, 0.5), (25.0, 0.25)];

/// Level under which nothing is heard, in dBFS.
const REST_DBFS: f64 = -105.0;

/// Samples in a frame, and the fewest frames.
const FRAME: usize = 2048;
const NEEDS_FRAMES: usize = 4;

/// How far the middle half of the frames may spread, and what the gain may leave over, in dB.
const SPREAD_DB: f64 = 0.5;
const RESIDUAL_DB: f64 = -15.0;

/// A gain at rest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rest {
    /// Gain re the filtered raw tap, in dB.
    pub(super) gain_db: f64,
    /// How long it had been quiet.
    pub(super) quiet_s: f64,
}

impl Rest {
    /// `None` where there are no such pauses or the gain still moves in them.
    pub(super) fn find(way: &Way<'_>, level_dbfs: &[f64], block: usize) -> Option<Self> {
        RESTS.into_iter().find_map(|(under_db, for_s)| {
            let mut frames = frames(level_dbfs, under_db, for_s, block);
            if frames.len() < NEEDS_FRAMES {
                return None;
            }
            // Where it has been quiet for longest, the most has come to rest.
            frames.sort_by(|a, b| b.quiet_s.total_cmp(&a.quiet_s).then(a.from.cmp(&b.from)));
            frames.truncate((frames.len() / 3).max(NEEDS_FRAMES));
            let quiet_s = frames.last().map_or(for_s, |frame| frame.quiet_s);
            Some(in_frames(way, &frames).map(|gain_db| Self { gain_db, quiet_s }))
        })?
    }
}

/// A frame in a pause.
#[derive(Clone, Copy, Debug)]
struct Frame {
    from: usize,
    /// For how long it has been quiet at its begin.
    quiet_s: f64,
}

/// The frames that lie in pauses.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "blocks of seconds"
)]
fn frames(level_dbfs: &[f64], under_db: f64, for_s: f64, block: usize) -> Vec<Frame> {
    let border_dbfs = percentile(level_dbfs, 0.95).unwrap_or(0.0) - under_db;
    let wanted = (for_s * f64::from(BLOCKS_PER_S)) as usize;
    let needed = FRAME.div_ceil(block);
    let (mut n_quiet, mut frames, mut free) = (0, Vec::new(), 0);
    for (at, &level_dbfs) in level_dbfs.iter().enumerate() {
        let is_quiet = level_dbfs < border_dbfs && level_dbfs > REST_DBFS;
        n_quiet = if is_quiet { n_quiet + 1 } else { 0 };
        if n_quiet >= wanted + needed && at + 1 >= free + needed {
            let quiet_s = (n_quiet - needed) as f64 / f64::from(BLOCKS_PER_S);
            frames.push(Frame { from: (at + 1 - needed) * block, quiet_s });
            free = at + 1;
        }
    }
    frames
}

/// Gain of the frames together, if they agree.
fn in_frames(way: &Way<'_>, frames: &[Frame]) -> Option<f64> {
    let forward = RealFftPlanner::<f64>::new().plan_fft_forward(FRAME);
    let window: Vec<f64> = (0..FRAME).map(|place| hann(place, FRAME)).collect();
    let spectrum = |samples: &mut dyn Iterator<Item = f64>| -> Vec<Complex64> {
        let mut shaped: Vec<f64> = samples.zip(&window).map(|(x, w)| x * w).collect();
        let mut bins = forward.make_output_vec();
        forward.process(&mut shaped, &mut bins).expect("the buffers have the lengths");
        bins
    };
    let programme = {
        let mut sum = vec![0.0; FRAME / 2 + 1];
        for frame in way.filtered.chunks_exact(FRAME) {
            let bins = spectrum(&mut frame.iter().copied());
            sum.iter_mut().zip(bins).for_each(|(sum, value)| *sum += value.norm_sqr());
        }
        sum
    };
    let (mut gains_db, mut sums) = (Vec::new(), Sums::new());
    for &Frame { from, .. } in frames {
        let (Some(own), Some(other)) =
            (way.filtered.get(from..from + FRAME), way.processed.get(from..from + FRAME))
        else {
            continue;
        };
        let own = spectrum(&mut own.iter().copied());
        let other = spectrum(&mut other.iter().map(|&x| f64::from(x)));
        let mut of_frame = Sums::new();
        of_frame.add(&own, &other);
        sums.add(&own, &other);
        gains_db.extend(of_frame.gain(&programme).map(|(gain, _)| 20.0 * gain.log10()));
    }
    let [low, high] = [0.25, 0.75].map(|share| percentile(&gains_db, share));
    let (gain, rest) = sums.gain(&programme)?;
    let is_clean = 10.0 * rest.max(1e-12).log10() <= RESIDUAL_DB;
    (is_clean && high? - low? < SPREAD_DB).then(|| 20.0 * gain.log10())
}

/// Products of two taps, bin by bin.
struct Sums {
    both: Vec<f64>,
    own: Vec<f64>,
    other: Vec<f64>,
}

impl Sums {
    fn new() -> Self {
        let zeros = || vec![0.0; FRAME / 2 + 1];
        Self { both: zeros(), own: zeros(), other: zeros() }
    }

    fn add(&mut self, own: &[Complex64], other: &[Complex64]) {
        for (bin, (own, other)) in own.iter().zip(other).enumerate() {
            self.both[bin] += (own.conj() * other).re;
            self.own[bin] += own.norm_sqr();
            self.other[bin] += other.norm_sqr();
        }
    }

    /// Gain, and the share that it leaves over, in the bins as the programme fills them: a filter that is a little wrong
    /// must not count where the programme has little.
    fn gain(&self, programme: &[f64]) -> Option<(f64, f64)> {
        let (mut gain, mut rest, mut total) = (0.0, 0.0, 0.0);
        for (bin, power) in programme.iter().enumerate() {
            let (both, own, other) = (self.both[bin], self.own[bin], self.other[bin]);
            if own > 0.0 && other > 0.0 {
                gain += power * both / own;
                rest += power * (1.0 - both * both / (own * other)).max(0.0);
                total += power;
            }
        }
        (gain > 0.0 && total > 0.0).then(|| (gain / total, rest / total))
    }
}
