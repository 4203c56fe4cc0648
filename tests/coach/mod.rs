//! Tests of `coach`.
