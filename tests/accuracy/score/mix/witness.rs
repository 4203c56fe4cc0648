//! Two naive ways to read a mix back: least squares on samples second by second, and powers of third-octaves without negative parts.
//!
//! Takes recordings, tells gains as they would. Never part of the program.

use std::path::Path;

use rayon::prelude::*;
use realfft::RealFftPlanner;

use super::super::recording::Recording;
use super::RATE_HZ;
use super::desk::{Desk, LATENCY};
use super::score::Told;

/// How firmly least squares are held, re the mean of the diagonal.
const HOLD: f64 = 1e-6;

/// Turns of the powers.
const SWEEPS: usize = 400;

/// Edges of the third-octaves from 25 Hz to 16 kHz: IEC 61260-1, base ten.
fn edges_hz() -> Vec<f64> {
    (0..=29).map(|band| 10f64.powf((f64::from(band) + 13.5) / 10.0)).collect()
}

/// Gains by least squares, and by powers.
pub(crate) fn told(desk: &Desk, folder: &Path) -> [Vec<Told>; 2] {
    let strips: Vec<_> = desk.strips.iter().filter(|strip| strip.is_recorded).collect();
    let n_seconds = desk.length_s as usize;
    let channels: Vec<Vec<f64>> = strips
        .par_iter()
        .map(|strip| {
            let recording = Recording::read(&folder.join(&strip.file));
            recording.samples(0, n_seconds * RATE_HZ).collect()
        })
        .collect();
    let main = Recording::read(&folder.join("99 Main.wav"));
    // Left and right take turns.
    let both: Vec<f64> = main.samples(2 * LATENCY, 2 * n_seconds * RATE_HZ).collect();
    let side = |which: usize| both.iter().skip(which).step_by(2).copied().collect::<Vec<f64>>();
    let sides = [side(0), side(1)];
    let of_second = |second: usize| {
        let cut = |samples: &Vec<f64>| -> Vec<f64> {
            let from = (second * RATE_HZ).min(samples.len());
            samples[from..(from + RATE_HZ).min(samples.len())].to_vec()
        };
        let raw: Vec<Vec<f64>> = channels.iter().map(&cut).collect();
        let mix = sides.each_ref().map(&cut);
        [least_squares(&raw, &mix), powers(&raw, &mix)]
    };
    let found: Vec<[Vec<f64>; 2]> = (0..n_seconds).into_par_iter().map(of_second).collect();
    [0, 1].map(|way| {
        let gain = |idx: usize| {
            found.iter().map(|second| Some(10.0 * second[way][idx].max(1e-12).log10())).collect()
        };
        (0..strips.len())
            .map(|idx| Told {
                name: strips[idx].name.clone(),
                gain_db: gain(idx),
                ..Told::default()
            })
            .collect()
    })
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Gains as powers of both sides together.
fn least_squares(raw: &[Vec<f64>], mix: &[Vec<f64>; 2]) -> Vec<f64> {
    let n = raw.len();
    let mut square: Vec<Vec<f64>> =
        (0..n).map(|a| (0..n).map(|b| dot(&raw[a], &raw[b])).collect()).collect();
    let hold = HOLD * (0..n).map(|k| square[k][k]).sum::<f64>() / n as f64 + 1e-12;
    (0..n).for_each(|k| square[k][k] += hold);
    let solve = |side: &Vec<f64>| {
        let column = raw.iter().map(|raw| dot(raw, side)).collect();
        solved(square.clone(), column)
    };
    let [left, right] = mix.each_ref().map(solve);
    left.iter().zip(&right).map(|(l, r)| l * l + r * r).collect()
}

/// Gauss with the diagonal as pivots: the squares are positive definite.
fn solved(mut square: Vec<Vec<f64>>, mut column: Vec<f64>) -> Vec<f64> {
    let n = column.len();
    for pivot in 0..n {
        for row in pivot + 1..n {
            let factor = square[row][pivot] / square[pivot][pivot];
            let (above, below) = square.split_at_mut(row);
            let pair = below[0].iter_mut().zip(&above[pivot]).skip(pivot);
            pair.for_each(|(x, above)| *x -= factor * above);
            column[row] -= factor * column[pivot];
        }
    }
    for row in (0..n).rev() {
        let rest: f64 = (row + 1..n).map(|k| square[row][k] * column[k]).sum();
        column[row] = (column[row] - rest) / square[row][row];
    }
    column
}

/// Powers of bands as sums of the channels' powers, each band re the mix.
fn powers(raw: &[Vec<f64>], mix: &[Vec<f64>; 2]) -> Vec<f64> {
    let n = raw.len();
    let mains = mix.each_ref().map(|side| bands(side));
    let main: Vec<f64> = mains[0].iter().zip(&mains[1]).map(|(l, r)| l + r + 1e-15).collect();
    let columns: Vec<Vec<f64>> =
        raw.iter().map(|x| bands(x).iter().zip(&main).map(|(x, m)| x / m).collect()).collect();
    let mut gains = vec![0.0; n];
    let mut left: Vec<f64> = vec![1.0; main.len()];
    for _ in 0..SWEEPS {
        for k in 0..n {
            let size = dot(&columns[k], &columns[k]);
            if size <= 0.0 {
                continue;
            }
            let better = (gains[k] + dot(&columns[k], &left) / size).max(0.0);
            let step = better - gains[k];
            left.iter_mut().zip(&columns[k]).for_each(|(left, x)| *left -= step * x);
            gains[k] = better;
        }
    }
    gains
}

fn bands(samples: &[f64]) -> Vec<f64> {
    let mut samples = samples.to_vec();
    samples.resize(RATE_HZ, 0.0);
    let forward = RealFftPlanner::<f64>::new().plan_fft_forward(RATE_HZ);
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut samples, &mut spectrum).expect("lengths fit");
    // A bin a hertz.
    let place = |hz: &f64| hz.round() as usize;
    let edges = edges_hz();
    edges
        .windows(2)
        .map(|pair| spectrum[place(&pair[0])..place(&pair[1])].iter().map(|x| x.norm_sqr()).sum())
        .collect()
}
