//! Shared by tests: signals and scratch folders.

pub(crate) mod folders;
//! Tests of `support`.

pub(crate) mod codedfile;
pub(crate) mod wavefile;
