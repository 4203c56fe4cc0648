//! What channels say about each other.
//!
//! Takes traces and streams of several channels, gives plain results: when a channel's own source sounds, how the
//! session divides into songs and talk, what pairs have in common, what the main mix does. Never opens a file, and
//! knows no target.

pub mod main_mix;
pub mod same_source;
pub mod stereo;
pub mod twin;
pub mod activity;
pub mod line_check;
mod players;
pub mod segments;
mod frames;
pub mod quiet;
mod spill;

pub use activity::{Activity, Presence, Source, own_activity};
