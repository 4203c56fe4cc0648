//! Tests of `measure`.

mod clicks;
mod clipping;
mod dc;
mod hum;
mod level;
mod loudness;
mod programme;
mod silence;
mod thirds;
mod tone;
mod trace;
mod true_peak;
mod voice;
