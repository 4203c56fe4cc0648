//! Tests of `support`.

pub(crate) mod codedfile;
pub(crate) mod wavefile;
pub(crate) mod planted;
