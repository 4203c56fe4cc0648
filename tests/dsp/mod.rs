//! Tests of `dsp`.

mod biquad;
mod decimate;
mod frames;
mod gate;
mod group;
mod lanes;
mod oversample;
mod percentile;
mod steps;
mod thirds;
mod weighting;
mod window;
