//! Tests of `relate`.

mod activity;
mod line_check;
mod quiet;
mod segments;
mod twin;
