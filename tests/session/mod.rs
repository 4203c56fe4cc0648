//! Tests of `session`.

mod names;
mod sound;
