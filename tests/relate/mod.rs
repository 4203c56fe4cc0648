//! Relations between channels against planted truth.

mod activity;
mod line_check;
mod main_mix;
mod quiet;
mod same_source;
mod segments;
mod stereo;
mod twin;
