//! Relations between channels against planted truth.

mod activity;
mod alike;
mod arrival;
mod bleed;
mod cast;
mod coherence;
mod comb;
mod excess;
mod follow;
mod frames;
mod grid;
mod line_check;
mod main_mix;
mod material;
mod players;
mod prevail;
mod quiet;
mod reduction;
mod same_source;
mod segments;
mod separation;
mod spectrogram;
mod spill;
mod stereo;
mod twin;
mod way;
