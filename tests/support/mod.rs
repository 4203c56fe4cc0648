//! Tests of `support`.
pub mod demo;
