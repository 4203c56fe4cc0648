//! The built-in rehearsal: sounds, stage and desk of a hall that doesn't exist, rendered by seed.
//!
//! A [`scene`] is read, [`score`] writes what everybody plays, [`source`] and [`stem`] make it sound, [`field`] carries it to the
//! microphones of the [`hall`], [`desk`] mixes it, [`take`] conducts, and [`render()`] writes it with its [`truth`].

pub mod alone;
pub mod desk;
pub mod drift;
pub mod fault;
pub mod field;
pub mod geometry;
pub mod hall;
pub mod level;
mod note;
pub mod random;
pub mod record;
pub mod scene;
pub mod score;
pub mod source;
pub mod stem;
pub mod take;
pub mod truth;

mod render;

pub use render::{Which, render, render_scene};
