//! What everybody plays and says: made from the scene's songs, talks, checks and sounds, by seed.
//!
//! The tunes are walks over a scale, the patterns are the plainest of their kind: nothing here quotes a piece of music.
//! To add a part: a variant of [`crate::demo::scene::Part`] and a function in the file of its family.

mod arrange;
mod bar;
mod harmony;
mod melody;
mod rhythm;
mod speech;

pub(in crate::demo) use arrange::sheet;
pub use arrange::write;
