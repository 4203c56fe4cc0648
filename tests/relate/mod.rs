//! Tests of `relate`.

mod activity;
mod fold;
mod line_check;
mod main_mix;
mod quiet;
mod same_source;
mod segments;
mod stereo;
mod twin;
