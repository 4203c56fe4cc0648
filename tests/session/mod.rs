//! Tests of `session`.

mod names;
mod note;
mod sound;
