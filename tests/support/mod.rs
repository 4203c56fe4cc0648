//! Tests of `support`.
