//! Tests of `demo`.
