//! Measurements against published cases, closed forms and planted truth.

mod above;
mod clicks;
mod clipping;
mod crest;
mod dc;
mod decay;
mod dynamics;
mod exposure;
mod falls;
mod hits;
mod hum;
mod level;
mod loudness;
mod peaks;
mod phrases;
mod programme;
mod silence;
mod sliding;
mod sound_level;
mod standing;
mod thirds;
mod tone;
mod trace;
mod true_peak;
mod voice;
mod wander;
