//! Third-octave bands from 25 Hz to 16 kHz of eight channels, by filters.
//!
//! Takes chunks of frames, gives the mean square of each band in steps of 0.2 s. Bands are eighth-order Butterworth
//! band-passes between the exact base-ten edges. Each octave runs at half the rate of the one above, behind a half-band
//! low-pass with 80 dB of rejection, so a low band costs next to nothing and single precision is enough everywhere. The
//! delay of the low-passes is taken out of the steps. Never gives a band that the rate can't hold.
//!
//! Source: IEC 61260-1:2014 (mid-band frequencies and edges, formulas 2 to 5; class 1 limits, table 1). Sixth order would do
//! far below the rate, but the bilinear map flattens the lower skirt of the topmost bands below the class 1 limit.

use super::biquad::{Biquad, band_pass};
use super::half_band::HalfBand;
use super::lanes::{BandState, Frame, Isa, LANES, N_BAND_SECTIONS, band_energies, band_energy};
use super::steps::Steps;

/// How many bands there are.
pub const N_BANDS: usize = 29;

/// Steps in a second.
pub const STEPS_PER_S: u32 = 5;

/// Nominal mid-band frequencies, in Hz (IEC 61260-1 annex E).
pub const NOMINAL_HZ: [f64; N_BANDS] = [
    25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 315.0, 400.0, 500.0,
    630.0, 800.0, 1_000.0, 1_250.0, 1_600.0, 2_000.0, 2_500.0, 3_150.0, 4_000.0, 5_000.0, 6_300.0,
    8_000.0, 10_000.0, 12_500.0, 16_000.0,
];

/// Index of the band around 1 kHz.
const BAND_AT_1_KHZ: usize = 16;

/// Highest upper edge of a band, as a share of the rate at which it runs. At 44.1 kHz the 16 kHz band ends at 0.403; as an
/// octave is a little less than a halving, the lowest bands end at 0.412.
const HIGHEST_EDGE: f64 = 0.415;

/// Frames that a chunk has at least: enough for the loops to pay, few enough for the cache.
const SHORTEST_CHUNK: usize = 1024;

/// Exact mid-band frequency, in Hz.
///
/// # Panics
///
/// If there is no such band.
pub fn mid_hz(band: usize) -> f64 {
    assert!(band < N_BANDS, "there are {N_BANDS} bands, asked for {band}");
    1_000.0 * 10f64.powf(tenths(band) / 10.0)
}

/// Lower and upper edge, in Hz.
///
/// # Panics
///
/// If there is no such band.
pub fn edges_hz(band: usize) -> [f64; 2] {
    let half = 10f64.powf(0.05);
    [mid_hz(band) / half, mid_hz(band) * half]
}

/// The band in which a frequency lies; `None` below 22.4 Hz and from 17.8 kHz on.
pub fn band_at(frequency_hz: f64) -> Option<usize> {
    (0..N_BANDS).find(|&band| {
        let [low_hz, high_hz] = edges_hz(band);
        low_hz <= frequency_hz && frequency_hz < high_hz
    })
}

/// How many bands, from the lowest on, a rate can hold.
pub fn n_bands(rate_hz: u32) -> usize {
    let most_hz = HIGHEST_EDGE * f64::from(rate_hz);
    (0..N_BANDS).take_while(|&band| edges_hz(band)[1] <= most_hz).count()
}

/// Tenths of a decade above 1 kHz.
#[expect(clippy::cast_precision_loss, reason = "a band's number is small")]
fn tenths(band: usize) -> f64 {
    band as f64 - BAND_AT_1_KHZ as f64
}

/// The bands of eight channels.
#[derive(Clone, Debug)]
pub struct Bank {
    isa: Isa,
    chunk_len: usize,
    stages: Vec<Stage>,
    delay: usize,
}

/// What runs at one rate.
#[derive(Clone, Debug)]
struct Stage {
    /// What brings the chunk to the next rate, and room for that.
    halving: HalfBand,
    halved: Vec<Frame>,
    bands: Vec<Band>,
    steps: Steps,
    /// Frames that lie before the start of the session, because of the delay.
    n_early: usize,
    n_in_step: usize,
    n_left: usize,
}

#[derive(Clone, Debug)]
struct Band {
    number: usize,
    poles: [[f32; 2]; N_BAND_SECTIONS],
    /// Power gain that the kernel leaves out.
    gain: f64,
    state: BandState,
    energy: [f64; LANES],
}

impl Bank {
    /// A bank at rest.
    ///
    /// # Panics
    ///
    /// If the rate holds no band.
    pub fn new(isa: Isa, rate_hz: u32) -> Self {
        let n_bands = n_bands(rate_hz);
        assert!(n_bands > 0, "{rate_hz} Hz holds a third-octave band");
        let n_halvings = halvings(rate_hz, 0);
        let chunk_len = SHORTEST_CHUNK.max(1 << n_halvings);
        let mut delay = 0.0;
        let stages: Vec<Stage> = (0..=n_halvings)
            .map(|level| {
                if level > 0 {
                    delay = (delay + HalfBand::delay()) / 2.0;
                }
                let bands = (0..n_bands).filter(|&band| halvings(rate_hz, band) == level);
                let rate_here_hz = f64::from(rate_hz) / f64::from(1 << level);
                let mut steps = Steps::new(rate_hz, STEPS_PER_S << level);
                let n_halved = if level < n_halvings { chunk_len >> (level + 1) } else { 0 };
                Stage {
                    halving: HalfBand::new(isa),
                    halved: vec![[0.0; LANES]; n_halved],
                    bands: bands.map(|band| Band::new(band, rate_here_hz)).collect(),
                    n_early: whole(delay),
                    n_in_step: 0,
                    n_left: steps.take(),
                    steps,
                }
            })
            .collect();
        let delay = (whole(delay) + 1) << n_halvings;
        Self { isa, chunk_len, stages, delay }
    }

    /// Frames that every chunk has.
    pub fn chunk_len(&self) -> usize {
        self.chunk_len
    }

    /// Frames of silence after which the last of the recording has come through.
    pub fn delay(&self) -> usize {
        self.delay
    }

    /// Takes a chunk; calls `on_step` with the number of a band and its mean squares, lane by lane, for each step that ends.
    ///
    /// # Panics
    ///
    /// If the chunk has another length than [`Bank::chunk_len`].
    pub fn process(&mut self, chunk: &[Frame], mut on_step: impl FnMut(usize, &[f64; LANES])) {
        assert_eq!(chunk.len(), self.chunk_len, "a whole chunk");
        let mut frames = chunk;
        for stage in &mut self.stages {
            stage.measure(self.isa, frames, &mut on_step);
            frames = stage.halve(frames);
        }
    }
}

impl Stage {
    /// The frames at half the rate; none behind the last stage.
    fn halve(&mut self, frames: &[Frame]) -> &[Frame] {
        if !self.halved.is_empty() {
            self.halving.process(frames, &mut self.halved);
        }
        &self.halved
    }

    fn measure(
        &mut self,
        isa: Isa,
        frames: &[Frame],
        on_step: &mut impl FnMut(usize, &[f64; LANES]),
    ) {
        let n_early = self.n_early.min(frames.len());
        self.n_early -= n_early;
        if n_early > 0 {
            add_energies(isa, &frames[..n_early], &mut self.bands);
            self.bands.iter_mut().for_each(|band| band.energy = [0.0; LANES]);
        }
        let mut rest = &frames[n_early..];
        while !rest.is_empty() {
            let (now, later) = rest.split_at(self.n_left.min(rest.len()));
            add_energies(isa, now, &mut self.bands);
            rest = later;
            self.n_left -= now.len();
            self.n_in_step += now.len();
            if self.n_left == 0 {
                for band in &mut self.bands {
                    on_step(band.number, &band.take(self.n_in_step));
                }
                self.n_in_step = 0;
                self.n_left = self.steps.take();
            }
        }
    }
}

/// Adds the energy of the frames in each band.
fn add_energies(isa: Isa, frames: &[Frame], bands: &mut [Band]) {
    let (threes, rest) = bands.as_chunks_mut::<3>();
    for [a, b, c] in threes {
        let poles = [&a.poles, &b.poles, &c.poles];
        let states = [&mut a.state, &mut b.state, &mut c.state];
        band_energies(isa, frames, poles, states, [&mut a.energy, &mut b.energy, &mut c.energy]);
    }
    for band in rest {
        band_energy(isa, frames, &band.poles, &mut band.state, &mut band.energy);
    }
}

impl Band {
    #[expect(clippy::cast_possible_truncation, reason = "poles are rounded on purpose")]
    fn new(number: usize, rate_hz: f64) -> Self {
        let [low_hz, high_hz] = edges_hz(number);
        let sections = band_pass(rate_hz, low_hz, high_hz, N_BAND_SECTIONS);
        let pole = |section: &Biquad| [section.a1 as f32, section.a2 as f32];
        Self {
            number,
            poles: std::array::from_fn(|idx| pole(&sections[idx])),
            gain: sections[0].b0 * sections[0].b0,
            state: BandState::default(),
            energy: [0.0; LANES],
        }
    }

    /// Mean squares of the step that ends.
    fn take(&mut self, n_frames: usize) -> [f64; LANES] {
        #[expect(clippy::cast_precision_loss, reason = "a step has few frames")]
        let scale = self.gain / n_frames as f64;
        let powers = self.energy.map(|energy| energy * scale);
        self.energy = [0.0; LANES];
        powers
    }
}

/// How often the rate can be halved before a band.
fn halvings(rate_hz: u32, band: usize) -> u32 {
    let most_hz = HIGHEST_EDGE * f64::from(rate_hz);
    let fits = |&level: &u32| edges_hz(band)[1] * f64::from(1 << level) <= most_hz;
    (1..16).take_while(fits).last().unwrap_or(0)
}

/// A delay to whole frames.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a delay is a few frames"
)]
fn whole(delay: f64) -> usize {
    delay.round() as usize
}
