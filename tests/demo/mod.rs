//! Tests of `demo`.

mod alone;
mod desk;
mod drift;
mod field;
mod hall;
mod random;
mod scene;
mod score;
mod source;
mod take;
