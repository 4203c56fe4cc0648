//! Tests of `dsp`.

mod decimate;
mod frames;
mod biquad;
mod gate;
mod group;
mod lanes;
mod oversample;
mod percentile;
mod steps;
mod thirds;
mod weighting;
mod window;
