//! What tests share: signals, published tables, feeding of meters.

pub(crate) mod feeding;
pub(crate) mod planted;
pub(crate) mod reference;
pub(crate) mod signals;
pub(crate) mod stage;
