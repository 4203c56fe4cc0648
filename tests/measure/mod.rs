//! Measurements against published cases, closed forms and planted truth.

mod clicks;
mod clipping;
mod dc;
mod hum;
mod silence;
mod trace;
//! Tests of `measure`.

mod crest;
mod dynamics;
mod hits;
mod level;
mod loudness;
mod phrases;
mod programme;
mod sliding;
mod standing;
mod thirds;
mod tone;
mod trace;
mod true_peak;
