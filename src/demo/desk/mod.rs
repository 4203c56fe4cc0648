//! The desk of a scene: channel strips, effect, main bus, and who moved what when.
//!
//! To add a process: a file here, a setting in [`crate::demo::scene::Strip`], a line in `strip`.

mod automation;
mod dynamics;
mod effect;
mod filter;
mod mix;
mod strip;

pub use automation::Automation;
pub use dynamics::{Squeeze, static_gain_db};
pub use effect::Reverberator;
pub use filter::Biquad;
pub use mix::{Mix, Mixer};
pub use strip::{StripState, pan_gains};
