//! Tests of `relate`.

mod activity;
mod quiet;
