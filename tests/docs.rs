//! Tests of `docs`.
