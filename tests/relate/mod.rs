//! Tests of `relate`.
mod main_mix;
mod same_source;
mod stereo;
mod twin;

mod activity;
mod quiet;
