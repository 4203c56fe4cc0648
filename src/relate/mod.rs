//! What channels say about each other.
//!
//! Takes traces and streams of several channels, gives plain results: when a channel's own source sounds, how the
//! session divides into songs and talk, what pairs have in common, what the main mix does. Never opens a file, and
//! knows no target.

pub mod activity;
pub mod alike;
pub mod alone;
pub mod arrival;
pub mod audibility;
pub mod balance;
pub mod bleed;
pub mod blend;
pub mod board;
pub mod cast;
pub mod coherence;
pub mod colour;
pub mod comb;
mod cutter;
pub mod detour;
pub mod drift;
pub mod energies;
pub mod excess;
pub mod far_lag;
pub mod follow;
mod frames;
pub mod gain_step;
pub mod gate;
pub mod grid;
pub mod hand;
pub mod handling;
pub mod held_powers;
pub mod howl;
pub mod insert;
mod lag;
pub mod latency;
pub mod line_check;
pub mod main_mix;
pub mod material;
pub mod mixture;
pub mod opened;
pub mod part;
pub mod plausible;
mod players;
pub mod prevail;
pub mod pump;
pub mod quiet;
pub mod reduction;
pub mod rest;
pub mod ride;
pub mod ring;
pub mod same_source;
pub mod sections;
pub mod segments;
pub mod separation;
pub mod shared_lag;
pub mod shares;
pub mod sounding;
pub mod spectrogram;
mod spill;
mod staged;
pub mod startup;
pub mod stereo;
mod taper;
pub mod torn;
pub mod twin;
pub mod verdict;
pub mod walk;
pub mod way;
pub mod wedge;
pub mod wedge_spill;
pub mod whole_bands;

pub use activity::{Activity, Presence, Source, own_activity};
pub use line_check::{LineCheck, Turn, line_check, turns};
pub use quiet::all_quiet;
pub use segments::{Kind, Stretch, segments};
