//! Tests of `audio`.
