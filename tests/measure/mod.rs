//! Tests of `measure`.

mod clicks;
mod clipping;
mod dc;
mod hum;
mod silence;
//! Measurements against published cases, closed forms and planted truth.

mod trace;
