//! Tests of `support`.

pub(crate) mod codedfile;
pub(crate) mod folders;
pub(crate) mod wavefile;
