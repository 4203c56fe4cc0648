//! Tests of `house`.
