//! What tests share.

pub(crate) mod golden;
pub(crate) mod readings;
