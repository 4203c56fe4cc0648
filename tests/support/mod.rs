//! What tests share: signals, files, scratch folders, readings.

pub(crate) mod codedfile;
pub(crate) mod demo;
pub(crate) mod desk;
pub(crate) mod drifting;
pub(crate) mod evening;
pub(crate) mod feeding;
pub(crate) mod folders;
pub(crate) mod golden;
pub(crate) mod held;
pub(crate) mod howling;
pub(crate) mod material;
pub(crate) mod noise;
pub(crate) mod oracle;
pub(crate) mod paths;
pub(crate) mod planted;
pub(crate) mod readings;
pub(crate) mod reference;
pub(crate) mod rooms;
pub(crate) mod sharing;
pub(crate) mod signals;
pub(crate) mod spectrum;
pub(crate) mod squeeze;
pub(crate) mod stage;
pub(crate) mod taps;
pub(crate) mod wave;
pub(crate) mod wavefile;
