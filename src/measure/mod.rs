//! What one channel says about itself.
//!
//! A measurement is a *meter*: `new(rate_hz, n_channels)`, `push(&mut self, Group)`, `finish(self)` with one result a
//! channel. Its memory is bounded or grows by a few bytes a second. What depends on the whole take (loud level,
//! activity) is derived afterwards, from traces, by plain functions. A measurement knows no target.

pub mod above;
pub mod axis;
pub mod bang;
pub mod burst;
pub mod clearance;
pub mod clicks;
pub mod clipping;
pub mod crest;
pub mod dc;
pub mod decay;
pub mod dynamics;
pub mod excerpt;
pub mod exposure;
pub mod fade;
pub mod falls;
pub mod hits;
pub mod howl;
pub mod hum;
pub mod level;
pub mod loudness;
pub mod parting;
pub mod peaks;
pub mod phrases;
pub mod programme;
pub mod rise;
pub mod silence;
pub mod sliding;
pub mod sound_level;
pub mod spike;
pub mod stage;
pub mod standing;
pub mod sweep;
pub mod thirds;
pub mod threshold;
pub mod thumps;
pub mod tone;
pub mod trace;
pub mod true_peak;
pub mod voice;
pub mod wander;
pub mod words;

pub use level::{LevelMeter, Levels};
pub use loudness::{Loudness, LoudnessMeter};
pub use thirds::{Thirds, ThirdsMeter};
pub use trace::Trace;
pub use true_peak::{TruePeak, TruePeakMeter};
