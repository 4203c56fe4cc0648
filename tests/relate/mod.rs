//! Tests of `relate`.
