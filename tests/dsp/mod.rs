//! Tests of `dsp`.

mod decimate;
mod frames;
//! Kernels against closed forms, published tables and slow plain versions.

mod group;
