//! Tests of `session`.

mod folder;
mod names;
mod note;
mod plan;
mod sound;
