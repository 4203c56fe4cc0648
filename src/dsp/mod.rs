//! Numeric kernels on slices of samples.
//!
//! A kernel is a pure function on a slice or a struct with `new`, `process` and `finish`; samples are `f32`,
//! sums, filter states and results are `f64`. Nothing here knows a file, a role or a target.

pub mod decimate;
pub mod frames;
pub mod group;

pub use decimate::Decimator;
pub use frames::Frames;
pub use group::Group;
