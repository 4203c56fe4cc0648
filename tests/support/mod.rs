//! Tests of `support`.
pub(crate) mod demo;
