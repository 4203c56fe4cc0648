//! Tests of `support`.

pub(crate) mod planted;
