//! What tests share.
//! Shared by tests: signals and scratch folders.

pub(crate) mod folders;
//! Tests of `support`.

pub(crate) mod codedfile;
pub(crate) mod golden;
pub(crate) mod noise;
pub(crate) mod planted;
pub(crate) mod readings;
pub(crate) mod wave;
pub(crate) mod wavefile;
