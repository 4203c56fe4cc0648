//! Sound files in and out: what a file holds, its samples block by block, other rates, and a writer.
//!
//! [`probe`] reads headers only, [`Stream`] gives the samples of one file, [`Takes`] those of a recorder's
//! consecutive files, [`Resampler`] brings planes to another rate, [`WaveWriter`] writes. Recordings are opened
//! read-only and never mapped. A new container is a new reader beside `pcm` and `coded`, chosen in `stream`.

mod broadcast;
mod chunks;
mod coded;
mod format;
mod names;
mod open;
mod pcm;
mod peek;
mod probe;
mod repair;
mod resample;
mod stream;
mod takes;
mod wave;
mod write;

pub use names::is_audio_name;
pub use probe::{FileFacts, TrustHeader, probe};
pub use resample::Resampler;
pub use stream::Stream;
pub use takes::Takes;
pub use write::{SampleFormat, WaveSpec, WaveWriter};
