//! Tests of `measure`.

mod clicks;
mod clipping;
mod dc;
mod hum;
mod silence;
// mod crest;
// mod dynamics;
// mod hits;
mod level;
mod loudness;
// mod phrases;
mod programme;
// mod sliding;
// mod standing;
mod thirds;
mod tone;
mod trace;
mod true_peak;
