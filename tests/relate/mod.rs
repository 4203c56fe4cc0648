//! Relations between channels against planted truth.

mod activity;
mod alike;
mod arrival;
mod coherence;
mod comb;
mod frames;
mod line_check;
mod main_mix;
mod players;
mod quiet;
mod same_source;
mod segments;
mod spill;
mod stereo;
mod twin;
