//! The naive ways: a level gate, an energy ratio, a plain cross-correlation. They show what the better ones are worth.
//!
//! Takes recordings, tells what they would tell. Never part of the program.

use std::path::Path;

use deskside::reading::Kinship;
use deskside::unit::{Fact, Span};
use rayon::prelude::*;
use realfft::{RealFftPlanner, num_complex::Complex};

use super::bars::SPILL_DB;
use super::delay::RATE_HZ;
use super::percentile;
use super::recording::Recording;
use super::told::{Pair, Told};
use super::truth::{Row, Truth};

/// Samples in a frame of levels: 43 ms.
const FRAME: usize = 2048;

/// The level gate opens this far under the 98th percentile of the frames, in dB.
const GATE_DB: f64 = 20.0;

/// An energy ratio takes at least so many frames: 1 s.
const LEAST_FRAMES: usize = 24;

/// Samples of a transform of the cross-correlation, and the largest delay it looks for: 17 m.
const WINDOW: usize = 16_384;
const LARGEST: usize = 2400;

/// Witnesses say how far they trust themselves as nothing but a value does.
const CONFIDENCE: f64 = 0.5;

/// Powers of a channel's frames, and where the level gate is open.
struct Gated {
    name: String,
    powers: Vec<f64>,
    is_open: Vec<bool>,
}

/// What the naive ways tell of a rendered scene.
pub(crate) fn told(truth: &Truth, folder: &Path) -> Told {
    let recordings: Vec<(String, Recording)> = truth
        .channels
        .iter()
        .filter(|channel| channel.own_alone.is_some())
        .map(|channel| (channel.name.clone(), Recording::read(&folder.join(&channel.file))))
        .collect();
    let gated: Vec<Gated> =
        recordings.par_iter().map(|(name, recording)| gate(name, recording)).collect();
    let mut pairs: Vec<Pair> =
        truth.spill_pairs().filter_map(|row| energy_ratio(row, &gated)).collect();
    pairs.extend(correlated(truth, &recordings));
    Told {
        active: gated.iter().map(|one| (one.name.clone(), spans(&one.is_open))).collect(),
        pairs,
    }
}

fn gate(name: &str, recording: &Recording) -> Gated {
    let powers: Vec<f64> = (0..recording.len())
        .step_by(FRAME)
        .map(|from| recording.samples(from, FRAME).map(|x| x * x).sum::<f64>() / FRAME as f64)
        .collect();
    let top = percentile(&powers, 98.0).unwrap_or(0.0);
    let least = top * 10_f64.powf(-GATE_DB / 10.0);
    let is_open = powers.iter().map(|power| *power > least).collect();
    Gated { name: name.to_owned(), powers, is_open }
}

fn spans(is_open: &[bool]) -> Vec<Span> {
    let at_s = |idx: usize| (idx * FRAME) as f64 / RATE_HZ;
    let open = is_open.iter().enumerate().filter(|(_, is_open)| **is_open);
    open.map(|(idx, _)| Span::new(at_s(idx), at_s(idx + 1))).collect()
}

/// Power of the microphone over power of the source's own, where the source's gate is open and the microphone's is shut; brought
/// to the levels that both have while their gates are open.
fn energy_ratio(row: &Row, gated: &[Gated]) -> Option<Pair> {
    let of = |name: &str| gated.iter().find(|one| one.name == name);
    let (source, mic) = (of(&row.source)?, of(&row.mic)?);
    let sum = |of: &Gated, is_meant: &dyn Fn(usize) -> bool| {
        let powers = of.powers.iter().enumerate();
        powers.filter(|(idx, _)| is_meant(*idx)).map(|(_, power)| power).sum::<f64>()
    };
    let is_alone = |idx: usize| source.is_open[idx] && !mic.is_open[idx];
    if (0..source.powers.len()).filter(|idx| is_alone(*idx)).count() < LEAST_FRAMES {
        return None;
    }
    let transfer = sum(mic, &is_alone) / sum(source, &is_alone);
    let own = sum(mic, &|idx| mic.is_open[idx]);
    let there = transfer * sum(source, &|idx| source.is_open[idx]);
    let mut pair = Pair::new(&row.source, &row.mic, Kinship::Spill);
    pair.bleed_db = Fact::sure(10.0 * (there / own).log10(), CONFIDENCE);
    Some(pair)
}

/// Delays by the phase of the cross-spectrum over all frames, of pairs whose spill counts and of pairs that hold one thing.
fn correlated(truth: &Truth, recordings: &[(String, Recording)]) -> Vec<Pair> {
    let of = |name: &str| recordings.iter().position(|(other, _)| other == name);
    let rows: Vec<(&Row, usize, usize)> = truth
        .spill
        .iter()
        .filter(|row| row.delay_s.is_some())
        .filter(|row| row.one_thing || row.bleed_db.is_some_and(|db| db >= SPILL_DB.0))
        .filter_map(|row| Some((row, of(&row.source)?, of(&row.mic)?)))
        .collect();
    let forward = RealFftPlanner::<f64>::new().plan_fft_forward(WINDOW);
    let hann = |n: usize| 0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / WINDOW as f64).cos();
    let mut sums = vec![vec![Complex::new(0.0, 0.0); WINDOW / 2 + 1]; rows.len()];
    let length = recordings.iter().map(|(_, recording)| recording.len()).min().unwrap_or(0);
    for from in (0..length.saturating_sub(WINDOW)).step_by(WINDOW / 2) {
        let spectra: Vec<Vec<Complex<f64>>> = recordings
            .par_iter()
            .map(|(_, recording)| {
                let samples = recording.samples(from, WINDOW).enumerate();
                let mut samples: Vec<f64> = samples.map(|(n, x)| hann(n) * x).collect();
                let mut spectrum = forward.make_output_vec();
                forward.process(&mut samples, &mut spectrum).expect("lengths fit");
                spectrum
            })
            .collect();
        sums.par_iter_mut().zip(&rows).for_each(|(sum, (_, source, mic))| {
            for ((sum, a), c) in sum.iter_mut().zip(&spectra[*source]).zip(&spectra[*mic]) {
                let cross = c * a.conj();
                let size = cross.norm();
                if size > 0.0 {
                    *sum += cross / size;
                }
            }
        });
    }
    rows.iter().zip(sums).map(|((row, ..), sum)| peak(row, sum)).collect()
}

/// The largest value of the cross-correlation, and a parabola through it and its neighbours.
fn peak(row: &Row, mut sum: Vec<Complex<f64>>) -> Pair {
    let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(WINDOW);
    let end = sum.len() - 1;
    sum[0].im = 0.0;
    sum[end].im = 0.0;
    let mut correlation = inverse.make_output_vec();
    inverse.process(&mut sum, &mut correlation).expect("lengths fit, the ends are real");
    // The second half of the circle are negative delays.
    let place = |lag: usize| (WINDOW + lag - LARGEST) % WINDOW;
    let at = |lag: usize| correlation[place(lag)];
    let largest = (1..2 * LARGEST).max_by(|a, b| at(*a).abs().total_cmp(&at(*b).abs()));
    let largest = largest.expect("there are lags");
    let (before, top, after) = (at(largest - 1), at(largest), at(largest + 1));
    let bend = before - 2.0 * top + after;
    let fraction = if bend == 0.0 { 0.0 } else { 0.5 * (before - after) / bend };
    let delay_s = (largest as f64 - LARGEST as f64 + fraction) / RATE_HZ;
    let mut pair = Pair::new(&row.source, &row.mic, Kinship::SameSource);
    pair.delay_s = Fact::sure(delay_s, CONFIDENCE);
    pair.polarity = Fact::sure(top.signum(), CONFIDENCE);
    pair
}
