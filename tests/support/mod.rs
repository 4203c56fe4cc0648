//! Tests of `support`.

pub(crate) mod spectrum;
