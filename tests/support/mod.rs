//! Tests of `support`.

pub(crate) mod codedfile;
pub(crate) mod wavefile;
