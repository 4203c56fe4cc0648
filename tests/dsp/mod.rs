//! Tests of `dsp`.
