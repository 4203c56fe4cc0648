//! Tests of `support`.

pub(crate) mod planted;
pub(crate) mod stage;
