//! Tests of `dsp`.

mod decimate;
mod frames;
