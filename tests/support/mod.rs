//! Tests of `support`.

pub(crate) mod planted;
pub(crate) mod stage;
//! What tests share: signals, published tables, feeding of meters.

pub(crate) mod feeding;
pub(crate) mod reference;
pub(crate) mod signals;
