//! What tests share: signals, files, scratch folders, readings.

pub(crate) mod codedfile;
pub(crate) mod evening;
pub(crate) mod folders;
pub(crate) mod golden;
pub(crate) mod noise;
pub(crate) mod planted;
pub(crate) mod readings;
pub(crate) mod wave;
//! Tests of `support`.

pub(crate) mod codedfile;
pub(crate) mod evening;
pub(crate) mod folders;
pub(crate) mod wavefile;
pub(crate) mod stage;
//! What tests share: signals, sessions and readings.

pub(crate) mod readings;
pub(crate) mod spectrum;
pub mod demo;
//! What tests share: signals, published tables, feeding of meters.

pub(crate) mod feeding;
pub(crate) mod reference;
pub(crate) mod signals;
