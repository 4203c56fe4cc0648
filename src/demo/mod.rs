//! The built-in rehearsal: sounds, stage and desk of a hall that doesn't exist, rendered by seed.

pub mod random;
pub mod source;
