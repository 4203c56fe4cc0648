//! Tests of `demo`.

mod desk;
mod drift;
mod field;
mod hall;
mod scene;
mod score;
mod take;
mod random;
mod source;
