//! Kernels against closed forms, published tables and slow plain versions.

mod air;
mod banded;
mod biquad;
mod decimate;
mod dot;
mod frames;
mod gate;
mod group;
mod half_band;
mod lanes;
mod low_rate;
mod oversample;
mod percentile;
mod power_spectrum;
mod prediction;
mod slide;
mod square;
mod steps;
mod thirds;
mod weighting;
mod window;
