//! Tests of `measure`.

mod clicks;
mod clipping;
mod dc;
mod hum;
mod silence;
