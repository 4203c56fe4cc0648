//! Tests of `dsp::lanes`: every compiled copy against a plain twin written here.

mod bands;
mod cascade;
mod columns;
mod decibel;
mod fir;
mod framer;
mod gram;
mod halve;
mod isa;
mod matched;
mod pack;
mod packed_24;
mod parts;
mod products;
mod row;
mod step;
mod taper;
mod tops;
mod turn;
mod untangle;
mod upsample;
mod whole;

use deskside::dsp::lanes::{Frame, LANES};

use crate::support::signals::noise;

/// Frames of noise, another one in each lane.
pub(super) fn noisy_frames(n_frames: usize) -> Vec<Frame> {
    let planes: Vec<Vec<f32>> = (0..LANES as u64).map(|lane| noise(lane, 0.3, n_frames)).collect();
    (0..n_frames).map(|at| std::array::from_fn(|lane| planes[lane][at])).collect()
}
