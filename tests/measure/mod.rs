//! Measurements against published cases, closed forms and planted truth.

mod clicks;
mod clipping;
mod dc;
mod hum;
mod silence;
mod trace;
