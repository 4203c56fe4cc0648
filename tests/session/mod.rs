//! Tests of `session`.

mod names;
