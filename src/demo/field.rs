//! What every microphone hears of every source, a piece at a time.
//!
//! Takes pieces of all emitters, gives the same pieces of all microphones: direct sound and first reflections by one filter
//! a pair, the late tail by one filter a microphone on the sum of all emitters, or by a few on sums of some of them. Never holds
//! more than a piece and its past.

use std::sync::Arc;

use rayon::prelude::*;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex, num_complex::Complex};

use crate::demo::{
    geometry::{random_energy_efficiency, speed_of_sound_m_s},
    hall::{Emitter, Path, early, late, paths},
    random::Random,
    scene::{Hall, Microphone},
};

/// Samples in a piece: 2.7 s at 48 kHz, longer than any tail of the hall.
pub const PIECE: usize = 131_072;

/// Samples that the filters of direct sound and first reflections take, and step by: 171 ms at 48 kHz.
const HOP: usize = 8_192;

/// Hops in a piece.
const HOPS: usize = PIECE / HOP;

type Spectrum = Vec<Complex<f32>>;

/// Emitters and microphones in a hall.
pub struct Field {
    emitters: Vec<Emitter>,
    ways: Vec<Vec<Vec<Path>>>,
    filters: Vec<Vec<Spectrum>>,
    /// By microphone, then by tail.
    tails: Vec<Vec<Spectrum>>,
    past: Past,
    powers: Vec<Vec<f64>>,
    short: Transform,
    long: Transform,
}

/// What sounded in the piece before, which still rings.
#[derive(Clone, Debug, Default)]
pub struct Past {
    pieces: Vec<Option<Vec<f32>>>,
    /// By tail; `None` is silence.
    sums: Vec<Option<Vec<f32>>>,
}

impl Past {
    /// Whether nothing rings.
    pub fn is_silent(&self) -> bool {
        self.pieces.iter().all(Option::is_none)
    }
}

/// A pair of transforms of one length.
struct Transform {
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
}

impl Transform {
    fn new(n: usize) -> Self {
        let mut planner = RealFftPlanner::new();
        Self { forward: planner.plan_fft_forward(n), inverse: planner.plan_fft_inverse(n) }
    }

    fn spectrum(&self, samples: &mut [f32]) -> Spectrum {
        let mut spectrum = self.forward.make_output_vec();
        self.forward.process(samples, &mut spectrum).expect("lengths fit");
        spectrum
    }

    /// The second half of a spectrum's samples: what overlap-save keeps.
    fn second_half(&self, spectrum: &mut [Complex<f32>]) -> Vec<f32> {
        let end = spectrum.len() - 1;
        spectrum[0].im = 0.0;
        spectrum[end].im = 0.0;
        let mut samples = self.inverse.make_output_vec();
        self.inverse.process(spectrum, &mut samples).expect("lengths fit, the ends are real");
        samples.split_off(samples.len() / 2)
    }
}

impl Field {
    /// Emitters and microphones in a hall.
    pub fn new(
        hall: &Hall,
        temperature_c: f64,
        rate_hz: u32,
        emitters: Vec<Emitter>,
        mics: &[Microphone],
        seed: u64,
    ) -> Self {
        let (short, long) = (Transform::new(2 * HOP), Transform::new(2 * PIECE));
        let speed_m_s = speed_of_sound_m_s(temperature_c);
        let ways: Vec<Vec<Vec<Path>>> = mics
            .iter()
            .map(|mic| emitters.iter().map(|emitter| paths(hall, emitter, mic)).collect())
            .collect();
        let filter = |(emitter, ways): (&Emitter, &Vec<Path>)| {
            let response = early(ways, emitter.latency_s, speed_m_s, rate_hz, HOP);
            padded(&response, &short)
        };
        let filters = ways
            .par_iter()
            .map(|ways: &Vec<Vec<Path>>| emitters.iter().zip(ways).map(filter).collect())
            .collect();
        let tails_of = |(idx, mic): (usize, &Microphone)| {
            let start_s = median_distance_m(&ways[idx]) / speed_m_s;
            let tail = |number: u64| {
                let seed = Random::branch(seed, idx as u64 + (number << 32)).next_u64();
                padded(&late(hall, mic.pattern, start_s, rate_hz, PIECE, seed), &long)
            };
            (0..u64::from(hall.n_tails.max(1))).map(tail).collect()
        };
        let tails = mics.par_iter().enumerate().map(tails_of).collect();
        Self {
            ways,
            filters,
            tails,
            past: Past::default(),
            powers: vec![vec![0.0; HOP + 1]; emitters.len()],
            emitters,
            short,
            long,
        }
    }

    /// The ways from an emitter to a microphone; the straight one first.
    pub fn ways(&self, mic_idx: usize, emitter_idx: usize) -> &[Path] {
        &self.ways[mic_idx][emitter_idx]
    }

    /// The next piece of every microphone from the next piece of every emitter; `None` is silence.
    ///
    /// # Panics
    ///
    /// If a piece is not [`PIECE`] long, or their number is not that of the emitters.
    pub fn push(&mut self, pieces: &[Option<Vec<f32>>]) -> Vec<Vec<f32>> {
        let mut past = std::mem::take(&mut self.past);
        let spectra = self.spectra(pieces, &past);
        self.powers.par_iter_mut().zip(&spectra).for_each(|(powers, hops)| {
            for spectrum in hops.iter().flatten() {
                for (power, value) in powers.iter_mut().zip(spectrum) {
                    *power += f64::from(value.norm_sqr());
                }
            }
        });
        let heard = self.heard(pieces, &spectra, &mut past);
        self.past = past;
        heard
    }

    /// Like [`Self::push`], for pieces that sound by themselves with a past of their own; energies aren't counted.
    ///
    /// # Panics
    ///
    /// If a piece is not [`PIECE`] long, or their number is not that of the emitters.
    pub fn alone(&self, pieces: &[Option<Vec<f32>>], past: &mut Past) -> Vec<Vec<f32>> {
        let spectra = self.spectra(pieces, past);
        self.heard(pieces, &spectra, past)
    }

    /// Spectra of the hops of all emitters.
    fn spectra(&self, pieces: &[Option<Vec<f32>>], past: &Past) -> Vec<Vec<Option<Spectrum>>> {
        assert_eq!(pieces.len(), self.emitters.len(), "one piece an emitter");
        let past_of = |idx: usize| past.pieces.get(idx).and_then(Option::as_deref);
        let pieces = pieces.par_iter().enumerate();
        pieces.map(|(idx, piece)| self.hops(piece.as_deref(), past_of(idx))).collect()
    }

    /// What all microphones hear of pieces with these spectra; the pieces become the past.
    fn heard(
        &self,
        pieces: &[Option<Vec<f32>>],
        spectra: &[Vec<Option<Spectrum>>],
        past: &mut Past,
    ) -> Vec<Vec<f32>> {
        let n_tails = self.tails.first().map_or(1, Vec::len);
        let sums: Vec<Option<Vec<f32>>> =
            (0..n_tails).map(|number| self.sum_of(pieces, number, n_tails)).collect();
        let long = |number: usize| {
            let before = past.sums.get(number).and_then(Option::as_ref);
            let now = sums[number].as_ref();
            (before.is_some() || now.is_some()).then(|| {
                let mut both = vec![0.0; 2 * PIECE];
                if let Some(before) = before {
                    both[..PIECE].copy_from_slice(before);
                }
                if let Some(now) = now {
                    both[PIECE..].copy_from_slice(now);
                }
                self.long.spectrum(&mut both)
            })
        };
        let sum_spectra: Vec<Option<Spectrum>> = (0..n_tails).map(long).collect();
        let heard = |mic: usize| {
            let mut heard = self.late_in(mic, &sum_spectra);
            for (hop, out) in heard.chunks_exact_mut(HOP).enumerate() {
                self.add_early(mic, hop, spectra, out);
            }
            heard
        };
        let heard = (0..self.filters.len()).into_par_iter().map(heard).collect();
        *past = Past { pieces: pieces.to_vec(), sums };
        heard
    }

    /// Energy of an emitter in a microphone, by direct sound, first reflections and tail, for all that was pushed.
    pub fn energy(&self, mic_idx: usize, emitter_idx: usize) -> f64 {
        let filter = &self.filters[mic_idx][emitter_idx];
        let tails = &self.tails[mic_idx];
        let tail = &tails[emitter_idx % tails.len()];
        let efficiency = random_energy_efficiency(self.emitters[emitter_idx].omni);
        let stride = (tail.len() - 1) / (filter.len() - 1);
        let bins = self.powers[emitter_idx].iter().zip(filter).enumerate();
        bins.map(|(bin, (power, early))| {
            // The tail's spectrum is finer and rough: its mean over the bin counts.
            let fine = &tail[bin * stride..(bin * stride + stride).min(tail.len())];
            let late = fine.iter().map(|value| f64::from(value.norm_sqr())).sum::<f64>();
            // `padded` has scaled both filters by their own length.
            let early = f64::from(early.norm_sqr()) * (2.0 * HOP as f64).powi(2);
            power * (early + efficiency * late / fine.len() as f64 * (2.0 * PIECE as f64).powi(2))
        })
        .sum()
    }

    /// Spectra of the hops of a piece, each with the hop before it; `None` where both are silent.
    fn hops(&self, piece: Option<&[f32]>, past: Option<&[f32]>) -> Vec<Option<Spectrum>> {
        let mut before: Option<&[f32]> = past.map(|past| &past[PIECE - HOP..]);
        let mut hops = Vec::with_capacity(HOPS);
        for hop in 0..HOPS {
            let now = piece.map(|piece| &piece[hop * HOP..(hop + 1) * HOP]);
            let now = now.filter(|samples| samples.iter().any(|x| *x != 0.0));
            hops.push((before.is_some() || now.is_some()).then(|| {
                let mut samples = vec![0.0; 2 * HOP];
                if let Some(before) = before {
                    samples[..HOP].copy_from_slice(before);
                }
                if let Some(now) = now {
                    samples[HOP..].copy_from_slice(now);
                }
                self.short.spectrum(&mut samples)
            }));
            before = now;
        }
        hops
    }

    /// Sum of the emitters that share a tail, in turn; `None` if all are silent.
    fn sum_of(
        &self,
        pieces: &[Option<Vec<f32>>],
        number: usize,
        n_tails: usize,
    ) -> Option<Vec<f32>> {
        let mut sum: Option<Vec<f32>> = None;
        let sharing = pieces.iter().zip(&self.emitters).skip(number).step_by(n_tails);
        for (piece, emitter) in sharing {
            let Some(piece) = piece else { continue };
            assert_eq!(piece.len(), PIECE, "pieces are equally long");
            let factor = single(random_energy_efficiency(emitter.omni).sqrt());
            let sum = sum.get_or_insert_with(|| vec![0.0; PIECE]);
            for (out, x) in sum.iter_mut().zip(piece) {
                *out += factor * x;
            }
        }
        sum
    }

    fn late_in(&self, mic: usize, sums: &[Option<Spectrum>]) -> Vec<f32> {
        let mut product: Option<Spectrum> = None;
        for (sum, tail) in sums.iter().zip(&self.tails[mic]) {
            let Some(sum) = sum else { continue };
            match &mut product {
                Some(product) => {
                    let terms = sum.iter().zip(tail).map(|(a, b)| a * b);
                    product.iter_mut().zip(terms).for_each(|(out, x)| *out += x);
                }
                None => product = Some(sum.iter().zip(tail).map(|(a, b)| a * b).collect()),
            }
        }
        product.map_or_else(|| vec![0.0; PIECE], |mut product| self.long.second_half(&mut product))
    }

    fn add_early(
        &self,
        mic: usize,
        hop: usize,
        spectra: &[Vec<Option<Spectrum>>],
        out: &mut [f32],
    ) {
        let mut sum = vec![Complex::new(0.0, 0.0); HOP + 1];
        let mut silent = true;
        for (hops, filter) in spectra.iter().zip(&self.filters[mic]) {
            let Some(spectrum) = &hops[hop] else { continue };
            silent = false;
            for ((sum, x), h) in sum.iter_mut().zip(spectrum).zip(filter) {
                *sum += x * h;
            }
        }
        if !silent {
            for (out, x) in out.iter_mut().zip(self.short.second_half(&mut sum)) {
                *out += x;
            }
        }
    }
}

/// Middle one of the straight distances from all emitters to a microphone, in metres: one tail for all can't start with each.
fn median_distance_m(ways: &[Vec<Path>]) -> f64 {
    let mut distances: Vec<f64> = ways.iter().map(|ways| ways[0].distance_m).collect();
    distances.sort_by(f64::total_cmp);
    distances.get(distances.len() / 2).copied().unwrap_or(0.0)
}

/// Spectrum of a filter with as many zeros behind it, scaled for the way back.
fn padded(response: &[f32], transform: &Transform) -> Spectrum {
    let n = 2 * response.len();
    let mut samples = vec![0.0; n];
    samples[..response.len()].copy_from_slice(response);
    let mut spectrum = transform.spectrum(&mut samples);
    let scale = 1.0 / n as f32;
    spectrum.iter_mut().for_each(|value| *value *= scale);
    spectrum
}

#[expect(clippy::cast_possible_truncation, reason = "a factor of samples in single precision")]
fn single(x: f64) -> f32 {
    x as f32
}
