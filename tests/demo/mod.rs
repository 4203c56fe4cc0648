//! Tests of `demo`.

mod random;
mod source;
