//! What tests share: signals, sessions and readings.

pub(crate) mod readings;
