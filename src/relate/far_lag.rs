//! # Start of a further recorder, by the sound itself
//!
//! How much later sound stands in a channel of a recorder that was started by hand, where levels don't tell.
//!
//! - **Formula:** phase transform between 100 Hz and 2 kHz of the 10 s in the middle of the channel (Hann) against all of each reference, at about
//!   12 kHz; its highest peak in size re the root mean square of all lags, of the pair in which it stands highest
//! - **Unit:** s, positive: later in the channel
//! - **Range:** as far as the references reach on both sides: -20 to 20 s of 50 s
//! - **Source:** C. H. Knapp, G. C. Carter, "The generalized correlation method for estimation of time delay", IEEE Trans. ASSP 24(4), 1976; the height
//!   of 8 by own trials: what shares nothing never reached it
//! - **Window:** 50 s
//! - **No value:** no peak is as high
//! - **Misleads when:** what is played repeats itself exactly

use rayon::prelude::*;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use super::arrival::{bins_within, direction_of};
use crate::dsp::window::hann;

/// What is looked at, in seconds, and the part of the channel in its middle.
pub const LENGTH_S: f64 = 50.0;
const PART_S: f64 = 10.0;

/// Band in which phases count, in Hz: a clock that is off by 100 ppm turns higher ones round within the part.
const BAND_HZ: [f64; 2] = [100.0, 2_000.0];

/// Rate that is enough for that band, in Hz: means of four samples at 48 kHz, which are deaf to what would fold onto it.
const ENOUGH_HZ: u32 = 12_000;

/// Least height of a peak.
const NEEDS_HEIGHT: f64 = 8.0;

/// Measures how much later sound stands in some channels than in some references, over the same stretch. It keeps 2.4 MB a channel.
pub struct FarLagMeter {
    rate_hz: f64,
    factor: usize,
    n_references: usize,
    planes: Vec<Coarser>,
}

/// Means of some samples each.
#[derive(Clone, Default)]
struct Coarser {
    means: Vec<f32>,
    sum: f32,
    n_summed: usize,
}

impl Coarser {
    #[expect(clippy::cast_precision_loss, reason = "a small number")]
    fn push(&mut self, samples: &[f32], factor: usize) {
        for sample in samples {
            self.sum += sample;
            self.n_summed += 1;
            if self.n_summed == factor {
                self.means.push(self.sum / factor as f32);
                (self.sum, self.n_summed) = (0.0, 0);
            }
        }
    }
}

impl FarLagMeter {
    /// A meter for some references and channels beside them.
    pub fn new(rate_hz: u32, n_references: usize, n_channels: usize) -> Self {
        let factor = (rate_hz / ENOUGH_HZ).max(1);
        Self {
            rate_hz: f64::from(rate_hz) / f64::from(factor),
            factor: factor as usize,
            n_references,
            planes: vec![Coarser::default(); n_references + n_channels],
        }
    }

    /// The next samples of the references and, behind them, of the channels.
    pub fn push(&mut self, planes: &[&[f32]]) {
        let factor = self.factor;
        self.planes.iter_mut().zip(planes).for_each(|(own, plane)| own.push(plane, factor));
    }

    /// How much later, in seconds; none where nothing stands out.
    pub fn finish(self) -> Option<f64> {
        let Self { rate_hz, n_references, planes, .. } = self;
        let (references, channels) = planes.split_at(n_references);
        let longest = planes.iter().map(|plane| plane.means.len()).max()?;
        let length = (2 * longest).next_power_of_two();
        let forward = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let inverse = RealFftPlanner::<f32>::new().plan_fft_inverse(length);
        let bins = bins_within(BAND_HZ, rate_hz, length);
        let directions = |x: &[f32]| -> Vec<Complex<f32>> {
            spectrum(&*forward, x)[bins.clone()].iter().map(|&value| direction_of(value)).collect()
        };
        let references: Vec<_> = references.par_iter().map(|one| directions(&one.means)).collect();
        let channels: Vec<_> =
            channels.par_iter().map(|one| directions(&middle(&one.means, rate_hz))).collect();
        let of_pair = |(reference, channel): (&Vec<Complex<f32>>, &Vec<Complex<f32>>)| {
            let mut product = vec![Complex::default(); length / 2 + 1];
            let pairs = reference.iter().zip(channel);
            for (product, (one, other)) in product[bins.clone()].iter_mut().zip(pairs) {
                *product = other * one.conj();
            }
            top(&correlation(&*inverse, &mut product), rate_hz)
        };
        let of_reference = |one| channels.iter().map(move |other| (one, other));
        let pairs = references.iter().flat_map(of_reference);
        let best = pairs.filter_map(of_pair).max_by(|a, b| a.1.total_cmp(&b.1))?;
        (best.1 >= NEEDS_HEIGHT).then_some(best.0)
    }
}

/// The largest value in size within reach: its lag in seconds, and its height; what lies before 0 stands at the end.
#[expect(clippy::cast_precision_loss, reason = "lags are far below 2^52 samples")]
fn top(values: &[f32], rate_hz: f64) -> Option<(f64, f64)> {
    let n = values.len();
    let lag_s = |place: usize| {
        let before = if place > n / 2 { n as f64 } else { 0.0 };
        (place as f64 - before) / rate_hz
    };
    let within = || (0..n).filter(|&place| lag_s(place).abs() <= (LENGTH_S - PART_S) / 2.0);
    let top = within().max_by(|&a, &b| values[a].abs().total_cmp(&values[b].abs()))?;
    // Lags beyond share less than all of the part: they are no measure.
    let power: f64 = within().map(|place| f64::from(values[place]).powi(2)).sum();
    let rms = (power / within().count() as f64).sqrt();
    (rms > 0.0).then(|| (lag_s(top), f64::from(values[top].abs()) / rms))
}

/// The part in the middle, silence around it.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a length is not negative, and a sample small"
)]
fn middle(x: &[f32], rate: f64) -> Vec<f32> {
    let n = ((PART_S * rate) as usize).min(x.len());
    let begin = (x.len() - n) / 2;
    let mut part = vec![0.0; x.len()];
    for (place, part) in part[begin..begin + n].iter_mut().enumerate() {
        *part = x[begin + place] * hann(place, n) as f32;
    }
    part
}

fn spectrum(forward: &dyn RealToComplex<f32>, x: &[f32]) -> Vec<Complex<f32>> {
    let mut input = forward.make_input_vec();
    input[..x.len()].copy_from_slice(x);
    let mut output = forward.make_output_vec();
    forward.process(&mut input, &mut output).expect("the buffers have the plan's lengths");
    output
}

fn correlation(inverse: &dyn ComplexToReal<f32>, product: &mut [Complex<f32>]) -> Vec<f32> {
    let mut values = inverse.make_output_vec();
    inverse.process(product, &mut values).expect("the ends are 0");
    values
}
