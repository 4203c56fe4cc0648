//! Numeric kernels on slices of samples.
//!
//! A kernel is a pure function on a slice or a struct with `new`, `process` and `finish`; samples are `f32`,
//! sums, filter states and results are `f64`. Nothing here knows a file, a role or a target.

pub mod air;
pub mod banded;
pub mod biquad;
pub mod decimate;
pub mod dot;
pub mod frames;
pub mod gate;
pub mod group;
pub mod half_band;
pub mod lanes;
pub mod low_rate;
pub mod oversample;
pub mod percentile;
pub mod power_spectrum;
pub mod prediction;
pub mod slide;
pub mod square;
pub mod steps;
pub mod thirds;
pub mod weighting;
pub mod window;

pub use banded::Banded;
pub use decimate::Decimator;
pub use frames::Frames;
pub use group::Group;
pub use half_band::HalfBand;
pub use low_rate::LowRate;
pub use power_spectrum::PowerSpectrum;
pub use square::Square;
