//! Tests of `session`.
