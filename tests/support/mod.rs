//! Tests of `support`.

pub(crate) mod codedfile;
pub(crate) mod wavefile;
pub(crate) mod planted;
//! What tests share.

pub(crate) mod golden;
pub(crate) mod readings;
